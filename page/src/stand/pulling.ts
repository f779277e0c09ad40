// Pulling at a foot, the body or a joint; with the pointer in the figure, or with buttons here.
import { instantOf } from "../figure/pose";
import type { Instant } from "../figure/pose";
import type { Grip, Pulling } from "../figure/hand";
import { limitMark } from "../mark";
import { number } from "../numbers";
import { button, html, svg } from "../svg";
import type { Desk } from "../view";

const STEP_M = 0.005;
const STEP_RAD = Math.PI / 90;
const WAYS: readonly [string, readonly [number, number, number]][] = [
  ["forward", [1, 0, 0]], ["back", [-1, 0, 0]],
  ["left", [0, 1, 0]], ["right", [0, -1, 0]],
  ["up", [0, 0, 1]], ["down", [0, 0, -1]],
];

/** Sends pulls, newest only, and shows what comes back. */
export class PullPanel implements Grip {
  readonly element: HTMLElement;
  private readonly choice = html("select", { "aria-label": "What to pull" });
  private readonly buttons = html("div", { class: "row nudge" });
  private readonly said = html("p", { class: "quiet", role: "status" });
  private readonly limits = html("div", { class: "limits" });
  private readonly letGo: HTMLButtonElement;
  private readonly off: (() => void)[] = [];
  private body: [number, number, number] = [0, 0, 0];
  private bodyFrom: [number, number, number] = [0, 0, 0];
  private waiting: Pulling | null = null;
  private last: Pulling | null = null;
  private inFlight = 0;
  private active = false;

  constructor(private readonly desk: Desk) {
    this.letGo = button("Let go", () => this.end(), { hidden: "" });
    this.element = html("section", { class: "pulling", "aria-label": "Pull" },
      html("h3", {}, "Pull by hand"),
      html("p", { class: "quiet" }, "Take hold of a foot, a leg or the body in the figure; with Shift it goes up and down. Or choose here. Nothing is kept."),
      html("div", { class: "row" }, this.choice, this.letGo),
      this.buttons, this.limits, this.said,
    );
    this.choice.addEventListener("change", () => this.drawButtons());
    this.off.push(
      desk.store.listen(["pulled"], () => this.come()),
      desk.store.listen(["refused"], () => {
        const { refused } = desk.store;
        if (refused === null || refused.n !== this.inFlight || this.inFlight === 0) return;
        this.inFlight = 0;
        this.said.replaceChildren(limitMark("fail", 11), ` ${refused.text}`);
      }),
      desk.store.listen(["welcome"], () => this.drawChoice()),
      desk.store.listen(["edits", "cycle"], () => {
        if (this.active && this.last !== null) this.pull(this.last);
      }),
    );
    this.drawChoice();
    desk.figure.grip = this;
  }

  /** Something is pulled; the newest wish replaces one that still waits. */
  pull(pulling: Pulling): void {
    this.desk.cursor.run(false);
    this.active = true;
    if (pulling.what === "body" && pulling !== this.last) {
      const [x, y, z] = pulling.to;
      this.body = [this.bodyFrom[0] + x, this.bodyFrom[1] + y, this.bodyFrom[2] + z];
      this.last = { what: "body", name: "", to: [...this.body, 0, 0, 0] };
    } else {
      this.last = pulling;
    }
    this.waiting = this.last;
    this.send();
  }

  /** The pointer has let go; the pose stays until it is ended. */
  release(): void {
    this.bodyFrom = [...this.body];
  }

  /** Back to the cycle. */
  end(): void {
    this.active = false;
    this.waiting = this.last = null;
    this.body = [0, 0, 0];
    this.bodyFrom = [0, 0, 0];
    this.desk.figure.follow(null);
    this.letGo.hidden = true;
    this.said.textContent = "";
    this.limits.replaceChildren();
  }

  /** Whether a pulled pose is shown. */
  get pulled(): Float32Array | null {
    return this.active ? this.desk.store.pulled?.arrays["feet"] ?? null : null;
  }

  /** Let go of everything. */
  dispose(): void {
    this.end();
    this.desk.figure.grip = null;
    for (const each of this.off) each();
  }

  private send(): void {
    if (this.inFlight !== 0 || this.waiting === null) return;
    const { what, name, to } = this.waiting;
    this.waiting = null;
    this.inFlight = this.desk.link.send({ type: "pull", what, name, to: [...to], phase: this.desk.cursor.phase });
  }

  private come(): void {
    const { pulled, cycle } = this.desk.store;
    if (pulled === null || pulled.header.n < this.inFlight) return;
    this.inFlight = 0;
    this.send();
    if (!this.active) return;
    const base = cycle.now === null ? null : instantOf(cycle.now, this.desk.cursor.phase);
    this.desk.figure.follow(() => instant(pulled.arrays, base));
    this.letGo.hidden = false;
    const { ok, text } = pulled.header;
    const margin = pulled.arrays["margin"]?.[0];
    const stands = margin === undefined || !Number.isFinite(margin) ? "" : `Static margin ${number(margin * 1000)}\u202fmm. `;
    this.said.replaceChildren(...(ok ? [] : [limitMark("fail", 11), " "]), stands + text);
    this.drawLimits();
  }

  private drawChoice(): void {
    const { welcome } = this.desk.store;
    if (welcome === null) return;
    const value = this.choice.value;
    const option = (text: string, id: string): HTMLOptionElement => html("option", { value: id }, text);
    this.choice.replaceChildren(
      option("body", "body:"),
      ...Object.keys(welcome.legs).map((leg) => option(`foot ${welcome.short[leg] ?? leg}`, `foot:${leg}`)),
      ...Object.values(welcome.legs).flat().map((joint) => option(joint.replaceAll("_", " "), `joint:${joint}`)),
    );
    if (value !== "") this.choice.value = value;
    this.drawButtons();
  }

  private drawButtons(): void {
    const [what = "body", name = ""] = this.choice.value.split(":");
    const nudge = (by: readonly [number, number, number], turn: number): void => {
      if (what === "joint") {
        const from = this.position(name);
        this.pull({ what: "joint", name, to: [from + turn * STEP_RAD] });
      } else if (what === "foot") {
        const at = this.desk.figure.feet().find(({ leg }) => leg === name)?.at;
        if (at) this.pull({ what: "foot", name, to: [at.x + by[0] * STEP_M, at.y + by[1] * STEP_M, at.z + by[2] * STEP_M] });
      } else {
        this.pull({ what: "body", name: "", to: [by[0] * STEP_M, by[1] * STEP_M, by[2] * STEP_M, 0, 0, 0] });
        this.release();
      }
    };
    const ways = what === "joint"
      ? [button("− 2°", () => nudge([0, 0, 0], -1)), button("+ 2°", () => nudge([0, 0, 0], 1))]
      : WAYS.map(([word, by]) => button(word, () => nudge(by, 0)));
    this.buttons.replaceChildren(...ways);
  }

  private position(joint: string): number {
    const column = this.desk.store.welcome?.joints.indexOf(joint) ?? -1;
    return this.desk.figure.instant()?.q[column] ?? 0;
  }

  private drawLimits(): void {
    const { store } = this.desk;
    const { pulled, welcome, cycle } = store;
    const q = pulled?.arrays["q"];
    const limits = cycle.now?.header.limits;
    if (!q || !welcome || !limits || this.last === null) return;
    const { what, name } = this.last;
    const near = new Set(pulled?.header.stopped ?? []);
    const wanted = what === "foot" ? welcome.legs[name] ?? [] : what === "joint" ? [name] : [];
    const rows = [...new Set([...wanted, ...near])].slice(0, 6);
    this.limits.replaceChildren(...rows.map((joint) => {
      const j = welcome.joints.indexOf(joint);
      return travel(joint, q[j] ?? 0, limits.lower[j] ?? null, limits.upper[j] ?? null, near.has(joint));
    }));
  }
}

function instant(arrays: Record<string, Float32Array>, base: Instant | null): Instant {
  const made: Instant = { q: arrays["q"] ?? [], body: arrays["body"] ?? [0, 0, 0, 1, 0, 0, 0] };
  if (arrays["feet"]) made.feet = arrays["feet"];
  if (arrays["com"]) made.com = arrays["com"];
  if (arrays["contact"]) made.contact = arrays["contact"];
  else if (base?.contact) made.contact = base.contact;
  if (arrays["support"]) made.support = arrays["support"];
  else if (base?.support) made.support = base.support;
  const margin = arrays["margin"]?.[0];
  if (margin !== undefined) made.margin = margin;
  return made;
}

/** A joint's travel: what it can, what lies beyond hatched, a dot for where it is. */
function travel(joint: string, at: number, lower: number | null, upper: number | null, stopped: boolean): HTMLElement {
  const deg = (rad: number): number => (rad * 180) / Math.PI;
  const [low, high] = [lower ?? -Math.PI, upper ?? Math.PI];
  const wide = 200, pad = 16;
  const x = (rad: number): number => pad + ((rad - low) / (high - low || 1)) * (wide - 2 * pad);
  let hatch = "";
  for (let i = 0; i < pad + 6; i += 6) hatch += `M${i - 8} 22l14 -14M${wide - pad + i - 6} 22l14 -14`;
  const picture = svg("svg", { class: "travel", viewBox: `0 0 ${wide} 28`, width: wide, height: 28, "aria-hidden": "true" },
    svg("path", { class: "hatch", d: hatch }),
    svg("path", { class: "clear", d: `M${pad} 0h${wide - 2 * pad}v28h${2 * pad - wide}z` }),
    svg("path", { class: "scale", d: `M${pad} 15H${wide - pad}` }),
    svg("path", { class: "limit", d: `M${pad} 6v18M${wide - pad} 6v18` }),
    svg("circle", { class: stopped ? "dot fail" : "dot", cx: Math.max(4, Math.min(wide - 4, x(at))), cy: 15, r: 5 }),
  );
  return html("div", { class: "travel-row" },
    html("span", {}, joint.replaceAll("_", " ")), picture,
    html("span", { class: stopped ? "red" : "" }, `${number(deg(at))}° of ${number(deg(low))}° to ${number(deg(high))}°`),
  );
}
