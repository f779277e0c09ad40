// The robot behind the page: its line, the driver's hands, the stop. It lives beside all views.
import type { Desk } from "../view";
import type { Hand } from "../wire";
import { LegHand } from "./leg_hand";
import { RobotLink } from "./robot_link";
import type { RobotSaid, State } from "./robot_wire";
import { ScreenPad } from "./screen_pad";
import { StopCorner } from "./stop";
import { Keys, NOTHING, readPad } from "./wish";
import type { Wish } from "./wish";

const FRESH = 200; // ms: a wish older than this counts as let go
const ASLEEP = 1000; // ms: after a pause like this, nothing is held any more
const SPEAK = 500; // ms between two signs of life
const AGAIN = 100; // ms between two orders to walk
const EVENTS = 200;

/** Something that happened, with the clock on the wall. */
export interface Told {
  at: Date;
  what: string;
  text: string;
}

/** One robot for the whole page. */
export class Driver {
  readonly robot: RobotLink;
  readonly keys: Keys;
  readonly screen: ScreenPad;
  readonly leg: LegHand;
  /** Cautions that were acknowledged for this connection. */
  readonly seen = new Set<string>();
  cautions = 0;
  events: Told[] = [];
  gait = "";
  /** Share of full speed. */
  share = 0.5;
  wish: Wish = NOTHING;
  pad = "";
  /** What was refused last, in the robot's words. */
  refused = "";
  private readonly corner: StopCorner;
  private readonly listeners = new Set<(what: "state" | "all") => void>();
  private polled = 0;
  private looking = 0;
  private walking = false;
  private spoke = 0;
  private ordered = 0;
  private last: Wish["twist"] = [0, 0, 0];
  private lastHeld: ReadonlySet<string> = new Set();
  private known = "";

  constructor(readonly desk: Desk) {
    const address = new URL("robot", location.href);
    address.protocol = address.protocol === "https:" ? "wss:" : "ws:";
    this.robot = new RobotLink(address.href, {
      changed: () => this.changed(),
      state: (state) => this.onState(state),
      said: (message) => this.onSaid(message),
    });
    this.keys = new Keys(() => this.robot.drives, () => this.poll());
    this.screen = new ScreenPad(() => this.poll());
    this.leg = new LegHand(this);
    this.corner = new StopCorner(this);
    desk.store.listen(["robot"], () => this.connect());
    addEventListener("blur", () => this.release());
    document.addEventListener("visibilitychange", () => {
      if (document.hidden) this.release();
    });
    addEventListener("pagehide", () => this.release());
  }

  /** Call back with every state, or when anything else changed. */
  listen(callback: (what: "state" | "all") => void): () => void {
    this.listeners.add(callback);
    return () => this.listeners.delete(callback);
  }

  /** What the sheet says of sticks and speeds. */
  get hand(): Hand | null {
    return this.desk.store.robot?.hand ?? null;
  }

  /** Whether a robot can be reached at all. */
  get connected(): boolean {
    const state = this.desk.store.robot?.state;
    return state === "simulated" || state === "relayed";
  }

  /** Whether all cautions were acknowledged. */
  get careful(): boolean {
    return this.cautions > 0 && this.seen.size >= this.cautions;
  }

  /** Whether the robot is stopped until somebody acknowledges it. */
  get stopped(): boolean {
    return this.robot.state?.faults?.includes("stopped") ?? false;
  }

  /** Stop. */
  stop(): void {
    this.release();
    const gone = this.robot.stop();
    this.note("stop", gone ? "You asked for a stop." : "You asked for a stop, but the robot is not heard. Use its own stop.");
    this.corner.pressed();
    this.changed();
  }

  /** Let go of everything that is held. */
  release(): void {
    this.keys.release();
    this.screen.release();
    this.leg.release();
    this.polled = 0;
    this.wish = NOTHING;
    this.move();
  }

  /** Ask for something and tell when it is refused. */
  async ask(type: string, fields: Record<string, unknown> = {}, timed = true): Promise<boolean> {
    const asked = timed ? this.robot.move(type, fields) : this.robot.ask(type, fields);
    const answer = await asked;
    this.refused = answer === null ? "The robot is not heard." : answer.ok ? "" : (answer.text ?? "Refused.");
    this.changed();
    return answer?.ok ?? false;
  }

  /** Write into the list of events. */
  note(what: string, text: string): void {
    this.events = [...this.events, { at: new Date(), what, text }].slice(-EVENTS);
  }

  // Hands ---------------------------------------------------------------------------------

  /** Whether hands are looked at with every picture: only while a robot is heard. */
  get watching(): boolean {
    return this.looking !== 0;
  }

  private watch(): void {
    if (this.robot.link !== "open" || this.looking !== 0) return;
    const look = (): void => {
      this.looking = this.robot.link === "open" ? requestAnimationFrame(look) : 0; // stops in hidden tabs, and with it all that is wished
      if (this.looking !== 0) this.poll();
    };
    this.looking = requestAnimationFrame(look);
  }

  private poll(): void {
    if (document.hidden) return;
    const now = performance.now();
    const slept = this.polled > 0 && now - this.polled > ASLEEP;
    this.polled = now;
    if (slept) {
      this.keys.release(); // whatever was let go meanwhile was not heard
      this.screen.release();
      this.leg.release();
    }
    const hand = this.hand;
    const pad = hand === null ? null : readPad(hand);
    this.wish = [pad?.wish ?? NOTHING, this.keys.wish, this.screen.wish].find((each) => each.held) ?? NOTHING;
    const held = pad?.held ?? new Set<string>();
    if (hand !== null && pad !== null) this.buttons(hand, held);
    this.lastHeld = held;
    const there = pad === null ? "" : "controller";
    if (there !== this.pad) {
      this.pad = there;
      this.changed();
    }
    if (!this.wish.held && this.walking) this.move();
  }

  private buttons(hand: Hand, held: ReadonlySet<string>): void {
    const pressed = (button: string): boolean => held.has(button) && !this.lastHeld.has(button);
    if (pressed(hand.stop)) this.stop();
    if (!this.robot.drives || !this.careful) return;
    if (pressed(hand.power)) void this.ask("power");
    if (pressed(hand.stand)) void this.ask("stand");
    if (pressed(hand.sit)) void this.ask("sit");
    const gaits = this.robot.card?.gaits ?? [];
    if (pressed(hand.next_gait) && gaits.length > 0) {
      this.gait = gaits[(gaits.indexOf(this.gait) + 1) % gaits.length] ?? "";
      this.changed();
    }
  }

  /** With every state: say what is wished, or that the hand is still there. */
  private move(): void {
    const { robot, wish } = this;
    const now = performance.now();
    const fresh = wish.held && now - this.polled < FRESH && !document.hidden;
    if (!robot.drives || !this.careful) {
      this.walking = false;
      return;
    }
    const full = this.hand?.full ?? [0.05, 0.05, 0.2];
    const twist = wish.twist.map((value, i) => value * this.share * (full[i] ?? 0)) as [number, number, number];
    if (!fresh || twist.every((value) => value === 0)) {
      if (this.walking && (robot.state?.mode === "walking" || now - this.ordered < 500)) void robot.move("stand");
      this.walking = false;
      return;
    }
    const other = twist.some((value, i) => Math.abs(value - (this.last[i] ?? 0)) > 0.02 * (full[i] ?? 1));
    if ((other || !this.walking) && now - this.ordered > AGAIN) {
      this.ordered = now;
      this.last = twist;
      const fields = { forward: twist[0], left: twist[1], turn: twist[2], gait: this.gait };
      const first = !this.walking;
      this.walking = true;
      void robot.move("walk", fields, 0.25)?.then((answer) => {
        if (answer.ok) return;
        this.walking = false;
        if (first || this.refused !== answer.text) {
          this.refused = answer.text ?? "";
          this.changed();
        }
      });
    } else {
      robot.alive();
    }
  }

  // What is heard --------------------------------------------------------------------------

  private connect(): void {
    const told = this.desk.store.robot;
    const key = `${told?.state} ${told?.address}`;
    if (key !== this.known) {
      this.known = key;
      this.robot.close();
      this.seen.clear();
      this.events = [];
      this.refused = "";
      this.gait = "";
      if (this.connected) this.robot.open();
    }
    this.changed();
  }

  private onState(state: State): void {
    this.poll();
    this.stay();
    this.leg.renew();
    if (!this.leg.busy) this.move();
    this.corner.tell();
    for (const each of [...this.listeners]) each("state");
    void state;
  }

  /** A driver whose hands rest is there all the same, as long as the page is looked at. */
  private stay(): void {
    const now = performance.now();
    if (document.hidden || !this.robot.drives || now - this.spoke < SPEAK) return;
    this.spoke = now;
    this.robot.ping();
  }

  private onSaid(message: RobotSaid): void {
    if (message.type === "event" && message.what !== "lifted" && message.what !== "touched") {
      this.note(message.what, message.text);
    }
    if (message.type === "ended") {
      this.leg.ended(message);
      if (message.word !== "replaced") this.walking = false; // whoever still holds asks anew
      if (!message.ok && message.word !== "replaced") this.note(message.word ?? "ended", message.text ?? "");
    }
    if (message.type === "welcome" && this.gait === "") this.gait = message.robot.gaits[0] ?? "";
    this.changed();
  }

  private changed(): void {
    this.watch();
    this.corner.tell();
    for (const each of [...this.listeners]) each("all");
  }
}
