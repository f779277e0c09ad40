// What was heard last, and what the user has chosen: one place, read by all.
import type {
  AnySaid,
  Checking,
  CircuitBlock,
  Cycle,
  Drawings,
  Edits,
  Found,
  Nearness,
  Pulled,
  Reach,
  Received,
  Recordings,
  Refused,
  RobotState,
  Shape,
  SheetField,
  Verdict,
  Walking,
  Welcome,
} from "./wire";
import type { LinkState } from "./link";

type Arrays = Received["arrays"];

/** A block as it is kept: header and arrays. */
export interface Kept<H> {
  header: H;
  arrays: Arrays;
}

/** The edited robot, and what lies under it. */
export interface Pair<T> {
  now: T | null;
  before: T | null;
}

/** What listeners are told has changed. */
export type Topic =
  | "link"
  | "welcome"
  | "fields"
  | "edits"
  | "shape"
  | "cycle"
  | "reach"
  | "circuit"
  | "nearness"
  | "verdict"
  | "checking"
  | "drawings"
  | "pulled"
  | "refused"
  | "walk"
  | "robot"
  | "finding"
  | "question"
  | "look";

/** The state of the page. */
export class Store {
  link: LinkState = "opening";
  welcome: Welcome | null = null;
  fields: SheetField[] = [];
  /** Revision of the robot whose fields they are. */
  fieldsRev = 0;
  edits: Edits | null = null;
  readonly shape: Pair<Shape> = { now: null, before: null };
  readonly cycle: Pair<Kept<Cycle>> = { now: null, before: null };
  readonly reach: Pair<Kept<Reach>> = { now: null, before: null };
  readonly circuit: Pair<Kept<CircuitBlock>> = { now: null, before: null };
  nearness: Kept<Nearness> | null = null;
  verdict: Verdict | null = null;
  checking: Checking | null = null;
  drawings: Drawings | null = null;
  pulled: Kept<Pulled> | null = null;
  refused: Refused | null = null;
  walk: Walking | null = null;
  recordings: Recordings | null = null;
  robot: RobotState | null = null;
  /** Id of the finding that is open; empty: none. */
  finding = "";
  /** Newest revision that was heard of. */
  rev = 0;
  private readonly listeners = new Map<Topic, Set<() => void>>();

  /** Call back when one of some topics changes. */
  listen(topics: readonly Topic[], callback: () => void): () => void {
    for (const topic of topics) {
      let set = this.listeners.get(topic);
      if (set === undefined) this.listeners.set(topic, (set = new Set()));
      set.add(callback);
    }
    return () => {
      for (const topic of topics) this.listeners.get(topic)?.delete(callback);
    };
  }

  /** Tell the listeners of a topic. */
  tell(topic: Topic): void {
    for (const each of [...(this.listeners.get(topic) ?? [])]) each();
  }

  /** Whether the verdict is all of the newest revision. */
  get fresh(): boolean {
    return this.verdict !== null && this.verdict.whole && this.verdict.rev >= this.rev;
  }

  /** The finding that is open, if any. */
  get opened(): Found | null {
    return this.verdict?.findings.find((each) => each.id === this.finding) ?? null;
  }

  /** The worst word of the verdict on some areas; null where nothing was judged there. */
  worst(areas: readonly string[]): Found["verdict"] | null {
    const words = new Set(this.verdict?.findings.filter((found) => areas.includes(found.area)).map((found) => found.verdict));
    return (["fail", "warn", "unknown", "pass"] as const).find((word) => words.has(word)) ?? null;
  }

  /** Take in a text message. */
  take(message: AnySaid): void {
    if ("rev" in message && message.type !== "welcome") this.rev = Math.max(this.rev, message.rev);
    switch (message.type) {
      case "welcome":
        if (message.rev < this.rev) this.forget();
        this.rev = message.rev;
        this.welcome = message;
        return this.tell("welcome");
      case "edits":
        this.edits = message;
        this.refused = null;
        if (message.under === "") this.forgetBefore();
        return this.tell("edits");
      case "fields":
        this.fields = message.list;
        this.fieldsRev = message.rev;
        return this.tell("fields");
      case "shape":
        this.shape[message.who] = message;
        return this.tell("shape");
      case "checking":
        this.checking = message;
        return this.tell("checking");
      case "verdict":
        this.verdict = message;
        this.checking = null;
        return this.tell("verdict");
      case "drawings":
        this.drawings = message;
        return this.tell("drawings");
      case "refused":
        this.refused = message;
        return this.tell("refused");
      case "walk":
        this.walk = message;
        return this.tell("walk");
      case "recordings":
        this.recordings = message;
        return this.tell("walk");
      case "robot":
        this.robot = message;
        return this.tell("robot");
      default:
        return;
    }
  }

  /** Take in a block. */
  takeBlock({ header, arrays }: Received): void {
    switch (header.type) {
      case "cycle":
        this.cycle[header.who] = { header, arrays };
        return this.tell("cycle");
      case "reach":
        this.reach[header.who] = { header, arrays };
        return this.tell("reach");
      case "circuit":
        this.circuit[header.who] = { header, arrays };
        return this.tell("circuit");
      case "nearness":
        this.nearness = { header, arrays };
        return this.tell("nearness");
      case "pulled":
        this.pulled = { header, arrays };
        return this.tell("pulled");
      default:
        return;
    }
  }

  /** Nothing lies under the robot any more. */
  private forgetBefore(): void {
    for (const pair of [this.shape, this.cycle, this.reach, this.circuit]) pair.before = null;
    for (const topic of ["shape", "cycle", "reach", "circuit"] as const) this.tell(topic);
  }

  /** Another desk answers: what the last one said holds no more. */
  private forget(): void {
    for (const pair of [this.shape, this.cycle, this.reach, this.circuit]) pair.now = pair.before = null;
    this.verdict = this.edits = this.checking = this.drawings = this.pulled = this.nearness = null;
    this.finding = "";
    for (const topic of ["shape", "cycle", "verdict", "finding"] as const) this.tell(topic);
  }

  /** Open a finding; an empty id closes it. */
  open(id: string): void {
    if (id === this.finding) return;
    this.finding = id;
    this.tell("finding");
  }
}
