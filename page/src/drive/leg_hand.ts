// One leg by hand: drag its foot in the figure, or hold a button; the hold is the deadman.
import type { Grip, Pulling } from "../figure/hand";
import type { Driver } from "./driver";
import type { Ended } from "./robot_wire";

const LONGEST = 8000; // ms that a lowered foot is waited for

/** What is under way with one leg. */
export class LegHand implements Grip {
  /** The leg; empty: none. */
  leg = "";
  /** What it does. */
  doing: "" | "lift" | "place" | "probe" = "";
  /** Where it is to be set down: forward, left of the body's place [m]. */
  target: readonly [number, number] | null = null;
  /** What came of it. */
  result = "";
  private n = 0;
  private holding = false;
  private since = 0;

  constructor(private readonly driver: Driver) {}

  /** Whether a leg is under way. */
  get busy(): boolean {
    return this.doing !== "";
  }

  /** Hold a leg up, for as long as it is held. */
  lift(leg: string): void {
    if (this.leg === leg && this.doing === "lift") return;
    this.begin("lift", leg, {});
    this.holding = true;
  }

  /** Lower a leg until the ground pushes back, for as long as it is held. */
  probe(leg: string): void {
    this.begin("probe", leg, {});
    this.holding = true;
  }

  /** Let go: a lifted leg is set down where it was pulled to, else straight down. */
  release(): void {
    if (!this.holding) return;
    this.holding = false;
    if (this.doing === "lift") this.begin("place", this.leg, this.target === null ? {} : { target: this.target });
    else this.finish(this.doing === "probe" ? "let go before it touched" : "");
  }

  /** The figure's foot is pulled. */
  pull(pulling: Pulling): void {
    if (pulling.what !== "foot" || !this.driver.robot.drives || !this.driver.careful) return;
    const { mode } = this.driver.robot.state ?? {};
    if (this.doing === "" && mode !== "standing" && mode !== "single-leg") return;
    if (this.doing === "" || this.leg !== pulling.name) this.lift(pulling.name);
    this.target = [pulling.to[0], pulling.to[1]];
    this.driver.desk.figure.change();
  }

  /** With every state: the hand is still there. */
  renew(): void {
    if (this.doing === "") return;
    const goesDown = this.doing === "place" && performance.now() - this.since < LONGEST;
    if (!document.hidden && (this.holding || goesDown)) this.driver.robot.alive();
    else if (!this.holding) this.finish("");
  }

  /** A motion has come to its end. */
  ended(ended: Ended): void {
    if (ended.n !== this.n || this.doing === "") return;
    if (ended.word === "replaced") return;
    if (this.doing === "lift" && ended.ok) return; // it is up, and stays while it is held
    const force = ended.force === null || ended.force === undefined ? "" : ` with ${ended.force.toFixed(1)} N`;
    this.finish(ended.ok ? `${this.leg} stands${force}` : (ended.text ?? "it came to no end"));
  }

  private begin(doing: "lift" | "place" | "probe", leg: string, fields: Record<string, unknown>): void {
    const asked = this.driver.robot.move(doing, { leg, ...fields }, 0.25);
    if (asked === null) return;
    this.doing = doing;
    this.leg = leg;
    this.result = "";
    this.since = performance.now();
    this.n = this.driver.robot.number;
    if (doing !== "place") this.target = null;
    const { n } = this;
    void asked.then((answer) => {
      if (!answer.ok && this.n === n) {
        this.finish(answer.text ?? "Refused.");
        this.driver.refused = answer.text ?? "";
      }
    });
  }

  private finish(result: string): void {
    this.doing = "";
    this.holding = false;
    this.target = null;
    this.result = result;
    this.driver.desk.figure.change();
  }
}
