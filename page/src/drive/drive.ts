// What is it doing now? The robot as it is, and driving it.
import { still } from "../look";
import { number, withUnit } from "../numbers";
import { button, html } from "../svg";
import type { Desk, View } from "../view";
import type { AnySaid } from "../wire";
import { drawLand } from "../walk/land";
import { Cautions } from "./cautions";
import { Connect } from "./connect";
import type { Driver } from "./driver";
import { Health } from "./health";
import { LegButtons } from "./legs";
import { believed, drivenInstant } from "./pose";
import { Place } from "./place";

const SLOW = 250; // ms between two pictures of the numbers
const CLOCK = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", second: "2-digit" });
const LINKS = { closed: "no robot is connected", opening: "opening the line", outside: "not signed in", open: "", lost: "not heard" };

/** The fifth question. */
export class DriveView implements View {
  readonly word = "now";
  readonly question = "What is it doing now?";
  readonly areas: readonly string[] = [];
  private off: (() => void)[] = [];
  private desk: Desk | null = null;
  private due = 0;
  private drawn = 0;
  private listed: unknown = null;
  private connect: Connect | null = null;
  private cautions: Cautions | null = null;
  private place: Place | null = null;
  private legs: LegButtons | null = null;
  private health = new Health();
  private readonly mode = html("p", { class: "mode", "aria-live": "polite" });
  private readonly facts = html("dl", { class: "walk-figures facts" });
  private readonly next = html("p", { class: "say", hidden: "" });
  private readonly lights = html("div", { class: "lights", role: "img" });
  private readonly refused = html("p", { class: "wrong", hidden: "" });
  private readonly how = html("p", { class: "say" });
  private readonly gait = html("select", { name: "gait", id: "drive-gait" });
  private readonly share = html("select", { name: "share", id: "drive-share" }, ...[["0.25", "a quarter"], ["0.5", "half"], ["1", "full"]].map(([value = "", words = ""]) => html("option", { value }, words)));
  private readonly events = html("ol", { class: "events" });
  private readonly record = button("Record", () => this.switchRecorder(), { "aria-pressed": "false" });
  private readonly motions: HTMLButtonElement[];
  private readonly driven = html("div", { class: "driven" });

  constructor(private readonly driver: () => Driver) {
    const motion = (words: string, type: string, extra: Record<string, string> = {}): HTMLButtonElement => button(words, () => void this.driver().ask(type), { "data-asks": type, ...extra });
    this.motions = [
      motion("Power on", "power", { class: "first" }), motion("Stand up", "stand"), motion("Sit", "sit"), motion("Hold", "hold"),
      motion("Power off", "release"), motion("Acknowledge", "acknowledge"),
    ];
    this.share.addEventListener("change", () => (this.driver().share = Number(this.share.value)));
    this.gait.addEventListener("change", () => (this.driver().gait = this.gait.value));
  }

  mount(place: HTMLElement, desk: Desk): void {
    this.desk = desk;
    const driver = this.driver();
    this.connect = new Connect(driver);
    this.cautions = new Cautions(driver, () => this.all());
    this.place = new Place(driver);
    this.legs = new LegButtons(driver);
    this.health = new Health();
    this.share.value = String(driver.share);
    this.driven.replaceChildren(
      html("section", { class: "part status" }, this.mode, this.next, this.lights, this.facts),
      this.place.element, this.cautions.element,
      html("section", { class: "part" }, html("h3", {}, "Power and motion"), html("div", { class: "row" }, ...this.motions), this.refused),
      html("section", { class: "part hands" }, html("h3", {}, "Walk"), this.how,
        html("div", { class: "hands-row" }, driver.screen.element, html("div", { class: "hands-set" },
          html("div", { class: "asked" }, html("label", { for: "drive-gait" }, "gait"), this.gait),
          html("div", { class: "asked" }, html("label", { for: "drive-share" }, "share of full speed"), this.share)))),
      this.legs.element,
      html("section", { class: "part" }, html("h3", {}, "Joints"), this.health.summary, this.health.element),
      html("section", { class: "part" }, html("h3", {}, "What happened"), html("div", { class: "row" }, this.record), this.events),
    );
    place.append(this.connect.element, this.driven);
    this.off.push(driver.listen((what) => (what === "state" ? this.state() : this.all())));
    this.off.push(desk.store.listen(["refused", "welcome"], () => this.all()));
    desk.figure.follow(() => (driver.connected ? drivenInstant(driver.robot.state, desk.store.welcome?.joints.length ?? 0) : null), "the figure shows the robot");
    desk.figure.terrain = (strokes, pen) => drawLand(strokes, pen, null, believed(driver.robot.state));
    desk.figure.grip = driver.leg;
    this.all();
  }

  unmount(): void {
    for (const each of this.off) each();
    this.off = [];
    this.driver().screen.release();
    this.driver().leg.release();
    if (this.desk !== null) {
      this.desk.figure.terrain = null;
      this.desk.figure.grip = null;
      this.desk.figure.follow(null);
    }
    this.desk = null;
  }

  onMessage(_: AnySaid): void {
    // The driver hears the robot itself.
  }

  private switchRecorder(): void {
    this.desk?.link.send({ type: "robot_record", on: !(this.driver().robot.state?.recorded ?? false) });
  }

  private state(): void {
    const now = performance.now();
    if (!still.matches || now - this.drawn > 1000) {
      this.drawn = now;
      this.desk?.figure.change();
    }
    this.shine();
    if (now < this.due) return;
    this.due = now + SLOW;
    this.numbers();
  }

  private all(): void {
    const driver = this.driver();
    this.connect?.tell();
    this.driven.hidden = !driver.connected || driver.robot.role === "" && driver.robot.link !== "lost";
    this.driven.classList.toggle("unheard", driver.robot.link === "lost");
    this.cautions?.tell();
    this.place?.tell();
    this.legs?.tell();
    this.numbers();
    this.desk?.figure.change();
  }

  private numbers(): void {
    const driver = this.driver();
    const { robot } = driver;
    const { state } = robot;
    const faults = state?.faults ?? [];
    const lost = robot.link === "lost";
    const words = lost ? `not heard since ${CLOCK.format(robot.heardAt)}` : LINKS[robot.link] || `${state?.mode ?? "…"}${faults.length > 0 ? `: ${faults.join(", ")}` : ""}`;
    if (this.mode.textContent !== words) this.mode.textContent = words;
    this.mode.dataset["mode"] = state?.mode ?? "";
    this.mode.classList.toggle("fault", faults.length > 0 || lost);
    const next = lost ? "Values are those heard last. The line is opened again by itself; the driver's place is not taken again. Until then use the robot's own stop."
      : driver.stopped ? "To go on: look at the robot; then Acknowledge, Power on, Stand up." : "";
    if (this.next.textContent !== next) this.next.textContent = next;
    this.next.hidden = next === "";
    const [x, y, yaw] = state?.place ?? [];
    const facts: [string, string][] = [
      ["supply", withUnit(number(state?.voltage, 1), "V")],
      ["margin", typeof state?.margin === "number" ? withUnit(number(1000 * state.margin), "mm") : "—"],
      ["forward", withUnit(number(x, 2), "m")],
      ["left", withUnit(number(y, 2), "m")],
      ["heading", withUnit(number(typeof yaw === "number" ? (yaw * 180) / Math.PI : null), "°")],
    ];
    this.facts.replaceChildren(...facts.map(([name, value]) => html("div", {}, html("dt", {}, name), html("dd", { "data-figure": name }, value))));
    this.health.show(robot.card, state, driver.desk.store.welcome?.short ?? {});
    this.walk();
    this.happened();
  }

  private walk(): void {
    const driver = this.driver();
    const { robot } = driver;
    const why = !robot.drives ? "Take the driver's place first." : !driver.careful ? "Read the cautions first." : "";
    for (const each of this.motions) {
      const asks = each.dataset["asks"];
      const needs = asks === "acknowledge" || asks === "release" ? (robot.drives ? "" : "Take the driver's place first.") : why;
      each.disabled = needs !== "" || (asks === "acknowledge" && (robot.state?.faults?.length ?? 0) === 0);
      each.title = needs;
    }
    const controller = driver.pad === "" ? "No controller is heard: plug one in and press a button." : `Controller: hold its ${driver.hand?.deadman} button and push the sticks; ${driver.hand?.stop} stops.`;
    const text = why !== "" ? why
      : driver.stopped ? "It was stopped. Look at the robot, then acknowledge, then stand up."
      : `Hold to walk, let go to stand. Keys: hold Shift, then arrows or W A S D, Q E to turn. ${controller}`;
    if (this.how.textContent !== text) this.how.textContent = text;
    this.driven.dataset["wish"] = driver.wish.held ? driver.wish.by : "";
    const gaits = robot.card?.gaits ?? [];
    if (this.gait.dataset["of"] !== gaits.join()) {
      this.gait.dataset["of"] = gaits.join();
      this.gait.replaceChildren(...gaits.map((name) => html("option", { value: name }, name)));
    }
    if (driver.gait !== "" && document.activeElement !== this.gait) this.gait.value = driver.gait;
    this.refused.hidden = driver.refused === "";
    this.refused.textContent = driver.refused;
    const simulated = driver.desk.store.robot?.state === "simulated";
    const recorded = robot.state?.recorded ?? false;
    this.record.disabled = !simulated;
    this.record.setAttribute("aria-pressed", String(recorded));
    this.record.textContent = simulated ? (recorded ? "Recording: end it" : "Record") : recorded ? "The robot records" : "The robot does not record";
  }

  private happened(): void {
    const { events } = this.driver();
    if (events === this.listed) return;
    this.listed = events;
    this.events.replaceChildren(...[...events].reverse().slice(0, 100).map(({ at, what, text }) => html("li", {}, html("time", {}, CLOCK.format(at)), html("span", { "data-what": what }, text || what))));
  }

  /** The robot's lights, as it says that they are; it never flashes them faster than 3 Hz. */
  private shine(): void {
    const state = this.driver().robot.state;
    const colours = state?.lights ?? [];
    const key = colours.join();
    if (this.lights.dataset["key"] === key) return;
    this.lights.dataset["key"] = key;
    this.lights.hidden = colours.length === 0;
    this.lights.setAttribute("aria-label", `Lights of the robot, which is ${state?.mode ?? "not heard"}`);
    while (this.lights.childElementCount > colours.length) this.lights.lastElementChild?.remove();
    while (this.lights.childElementCount < colours.length) this.lights.append(html("i"));
    colours.forEach((colour, i) => {
      const lamp = this.lights.children[i];
      if (lamp instanceof HTMLElement) lamp.style.background = colour;
    });
  }
}
