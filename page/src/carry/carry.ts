// Does it carry? One gait cycle: who stands when, and what it asks of every servo.
import { Words } from "../cursor";
import { html } from "../svg";
import type { Desk, View } from "../view";
import type { Cycle } from "../wire";
import { Cloud } from "./cloud";
import { edgeTable, spoken, warmthTable } from "./edges";
import { Plot } from "./plot";
import { QUANTITIES, range, seriesOf } from "./quantities";
import { Timing } from "./timing";

const TALL = 84;

/** The second question. */
export class CarryView implements View {
  readonly word = "carries";
  readonly question = "Does it carry?";
  readonly areas: readonly string[] = ["torque", "speed", "heat", "rise"];
  private desk: Desk | null = null;
  private off: (() => void)[] = [];
  private quantity = 0;
  /** Which joint of each leg, base to foot. */
  private joint = 1;
  /** The joint whose cloud is shown, on the J axis; −1: the one that strains most. */
  private shown = -1;
  private plots: { plot: Plot; column: number }[] = [];
  private marginPlot: Plot | null = null;
  private timing: Timing | null = null;
  private cloud: Cloud | null = null;
  private width = 0;
  private readonly words = new Words();
  private readonly cases = html("select", { "aria-label": "Walk" });
  private readonly note = html("p", { class: "say" });
  private readonly kinds = html("div", { class: "layers", role: "group", "aria-label": "What is plotted" });
  private readonly joints = html("div", { class: "layers", role: "group", "aria-label": "Joint of each leg" });
  private readonly grid = html("div", { class: "multiples" });
  private readonly cloudPlace = html("div", {});
  private readonly tables = html("div", {});
  private watcher: ResizeObserver | null = null;

  mount(place: HTMLElement, desk: Desk): void {
    this.desk = desk;
    this.timing = new Timing(desk);
    this.cloud = new Cloud();
    this.cloudPlace.replaceChildren(this.cloud.element);
    this.cases.onchange = () => {
      if (this.cases.value !== "") desk.link.send({ type: "show", case: this.cases.value });
    };
    desk.shell.tools.append(html("label", { class: "choice" }, html("span", {}, "walk"), this.cases));
    place.append(
      this.note, this.timing.element, this.kinds, this.joints, this.grid, this.cloudPlace, this.tables,
    );
    this.off.push(
      desk.store.listen(["cycle", "welcome"], () => this.draw()),
      desk.store.listen(["verdict"], () => this.drawTables()),
    );
    this.watcher = new ResizeObserver(() => {
      if (Math.abs(this.room() - this.width) > 4) this.draw();
    });
    this.watcher.observe(place);
    this.draw();
  }

  unmount(): void {
    for (const each of this.off) each();
    this.off = [];
    this.watcher?.disconnect();
    this.watcher = null;
    this.plots = [];
    this.marginPlot = null;
    this.timing = null;
    this.cloud = null;
    this.desk = null;
  }

  onCursor(phase: number): void {
    const words = this.desk !== null && this.words.due(this.desk.cursor);
    for (const { plot } of this.plots) plot.cursor(phase, words);
    this.marginPlot?.cursor(phase, words);
    this.timing?.cursor(phase);
    this.cloud?.cursor(phase);
  }

  private room(): number {
    const panel = this.grid.parentElement;
    return panel === null ? 400 : Math.max(300, panel.clientWidth - 32);
  }

  private draw(): void {
    const desk = this.desk;
    if (desk === null) return;
    this.width = this.room();
    this.drawCases(desk);
    const now = desk.store.cycle.now;
    if (now === null) {
      this.note.textContent = "The walk is being worked out.";
      return;
    }
    this.note.hidden = true; // what is wrong with the walk stands over the figure
    this.timing?.show(this.width);
    this.drawChoices(now.header);
    this.drawGrid(desk);
    this.drawTables();
    this.onCursor(desk.cursor.phase);
  }

  private drawCases(desk: Desk): void {
    const { welcome, cycle } = desk.store;
    const shown = cycle.now?.header.case ?? welcome?.case ?? "";
    const names = welcome?.cases ?? [];
    const own = shown === "" ? [html("option", { value: "" }, `${cycle.now?.header.gait ?? "walk"}, your own`)] : [];
    this.cases.replaceChildren(...own, ...names.map((name) => html("option", { value: name }, name)));
    this.cases.value = shown;
  }

  private drawChoices(header: Cycle): void {
    const pick = (text: string, on: boolean, act: () => void): HTMLButtonElement => {
      const one = html("button", { type: "button", "aria-pressed": String(on) }, text);
      one.addEventListener("click", act);
      return one;
    };
    const focus = (group: HTMLElement): number => [...group.children].indexOf(document.activeElement as Element);
    const kept = [focus(this.kinds), focus(this.joints)] as const;
    this.kinds.replaceChildren(...QUANTITIES.map((q, i) => pick(q.word, i === this.quantity, () => {
      this.quantity = i;
      this.draw();
    })));
    const names = segments(header);
    this.joint = Math.min(this.joint, names.length - 1);
    this.joints.replaceChildren(...names.map((name, i) => pick(name, i === this.joint, () => {
      this.joint = i;
      this.shown = -1;
      this.draw();
    })));
    (this.kinds.children[kept[0]] as HTMLElement | undefined)?.focus();
    (this.joints.children[kept[1]] as HTMLElement | undefined)?.focus();
  }

  private drawGrid(desk: Desk): void {
    const now = desk.store.cycle.now, before = desk.store.cycle.before;
    const quantity = QUANTITIES[this.quantity];
    if (now === null || quantity === undefined) return;
    const short = desk.store.welcome?.short ?? {};
    const chosen = legJoints(now.header, this.joint);
    const all = chosen.map((j) => seriesOf(quantity, now, before, j));
    const [low, high] = range(all, quantity.zero);
    const wide = Math.floor((this.width - 12) / 2);
    this.plots = [];
    const cells = chosen.map((j, i) => {
      const plot = new Plot(short[now.header.legs[i] ?? ""] ?? "", wide, TALL);
      const series = all[i];
      if (series !== undefined) plot.draw(series, low, high, quantity.unit);
      this.plots.push({ plot, column: j });
      const name = spoken(now.header, short, j);
      const cell = html("button", { type: "button", class: "cell", "aria-pressed": String(j === this.cloudJoint(now.header)), title: `${name}: show torque against speed` });
      cell.append(plot.element);
      cell.addEventListener("click", () => {
        this.shown = j;
        this.draw();
      });
      return cell;
    });
    const half = Math.ceil(cells.length / 2);
    const ordered = cells.map((_, i) => cells[i % 2 === 0 ? i / 2 : half + (i - 1) / 2]).filter((c) => c !== undefined);
    const heading = html("p", { class: "quiet unit" }, `${quantity.word} [${quantity.unit}] over the cycle; left legs left, nose up`);
    const margins = marginSeries(desk);
    this.marginPlot = null;
    const marginCell: HTMLElement[] = [];
    if (margins !== null) {
      this.marginPlot = new Plot("static margin [mm]", this.width, TALL);
      const [l, h] = range([margins], true);
      this.marginPlot.draw(margins, l, h, "mm");
      const cell = html("div", { class: "cell whole" });
      cell.append(this.marginPlot.element);
      marginCell.push(cell);
    }
    this.grid.replaceChildren(heading, ...ordered, ...marginCell);
    const j = this.cloudJoint(now.header);
    this.cloud?.draw(now, before, j, spoken(now.header, short, j), this.width);
  }

  /** The joint of the cloud: the chosen one, else the one that comes nearest to its line. */
  private cloudJoint(header: Cycle): number {
    if (this.shown >= 0) return this.shown;
    const now = this.desk?.store.cycle.now;
    const chosen = legJoints(header, this.joint);
    let best = chosen[0] ?? 0, worst = -1;
    const torque = now?.arrays["torque"], given = now?.arrays["available"], J = header.joints.length;
    if (torque === undefined || given === undefined) return best;
    for (const j of chosen) {
      for (let t = 0; t * J < torque.length; t += 1) {
        const share = Math.abs(torque[t * J + j] ?? 0) / (given[t * J + j] ?? NaN);
        if (share > worst) {
          worst = share;
          best = j;
        }
      }
    }
    return best;
  }

  private drawTables(): void {
    const desk = this.desk;
    if (desk === null) return;
    const now = desk.store.cycle.now, verdict = desk.store.verdict;
    const parts: HTMLElement[] = [];
    if (now !== null) parts.push(warmthTable(now, desk.store.welcome?.short ?? {}));
    if (verdict !== null && verdict.envelope.length > 0) parts.push(edgeTable(verdict.envelope));
    else parts.push(html("p", { class: "say" }, "The envelope is still being worked out."));
    this.tables.replaceChildren(...parts);
  }
}

/** Names of the joints of a leg, base to foot. */
function segments(header: Cycle): string[] {
  const leg = header.legs[0]?.replaceAll("-", "_") ?? "";
  const own = header.joints.filter((joint) => joint.startsWith(`${leg}_`));
  if (own.length > 0) return own.map((joint) => joint.slice(leg.length + 1));
  const each = Math.max(1, Math.floor(header.joints.length / Math.max(1, header.legs.length)));
  return Array.from({ length: each }, (_, i) => `joint ${i + 1}`);
}

/** Columns of the n-th joint of every leg. */
function legJoints(header: Cycle, nth: number): number[] {
  const each = Math.max(1, Math.floor(header.joints.length / Math.max(1, header.legs.length)));
  return header.legs.map((_, i) => Math.min(header.joints.length - 1, i * each + Math.min(nth, each - 1)));
}

function marginSeries(desk: Desk): { now: Float32Array; before: Float32Array | null; most: null; least: number | null } | null {
  const { now, before } = desk.store.cycle;
  const values = now?.arrays["margin"];
  if (now === null || values === undefined) return null;
  const mm = (all: Float32Array): Float32Array => all.map((v) => v * 1000);
  const under = before?.arrays["margin"];
  const need = now.header.limits.margin;
  return { now: mm(values), before: under === undefined ? null : mm(under), most: null, least: need === null ? null : need * 1000 };
}
