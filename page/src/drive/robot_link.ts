// The line to a robot: greets, signs in, numbers what is asked, gives back the robot's time.
import { sentence } from "../sentences";
import { FIELDS, LATER } from "./robot_wire";
import type { Answer, Card, RobotSaid, State } from "./robot_wire";

export type RobotLinkState = "closed" | "opening" | "outside" | "open" | "lost";

const RATE = 25; // states a second
const SILENT = 1000; // ms without a state: the link counts as lost
const WAIT = 1000; // ms before it is tried again
const PATIENCE = 4; // s that a power-up, a stop or a stand may be under way

/** Whoever wants to hear of the robot. */
export interface RobotHeard {
  changed(): void;
  state(state: State): void;
  said(message: RobotSaid): void;
}

/** One connection to a robot, opened anew when it breaks; the driver's place never is. */
export class RobotLink {
  link: RobotLinkState = "closed";
  card: Card | null = null;
  session = "";
  role = "";
  name = "";
  driver = { session: "", name: "" };
  state: State | null = null;
  /** When a state was last heard, as `Date.now()`; 0: never. */
  heardAt = 0;
  /** What is in the way, in the robot's words. */
  trouble = "";
  private socket: WebSocket | null = null;
  private n = 0;
  private heard = 0;
  private wanted = false;
  private token = "";
  private stopWaits = false;
  private readonly answers = new Map<number, (answer: Answer) => void>();

  constructor(private readonly address: string, private readonly ear: RobotHeard) {
    setInterval(() => this.watch(), 250);
  }

  /** Connect, and again whenever the line breaks. */
  open(): void {
    if (this.wanted) return;
    this.wanted = true;
    this.dial();
  }

  /** Leave. */
  close(): void {
    this.wanted = false;
    this.stopWaits = false;
    this.token = "";
    this.trouble = "";
    this.card = null;
    this.state = null;
    this.end("closed");
  }

  /** Number of the message that was asked last. */
  get number(): number {
    return this.n;
  }

  /** Whether the driver's place is this page's. */
  get drives(): boolean {
    return this.session !== "" && this.driver.session === this.session && this.link === "open";
  }

  /** Sign in with a token; it is kept in this page only, and only while it is open. */
  signIn(token: string): void {
    this.token = token.trim();
    this.trouble = "";
    if (this.socket?.readyState === WebSocket.OPEN && this.link === "outside") {
      this.socket.send(JSON.stringify({ type: "sign-in", token: this.token }));
    } else if (this.link !== "open") {
      this.end("opening");
      this.dial();
    }
  }

  /** Ask for something that does not grow old; null while the line is down. */
  ask(type: string, fields: Record<string, unknown> = {}): Promise<Answer> | null {
    if (this.socket?.readyState !== WebSocket.OPEN || this.link !== "open") return null;
    this.n += 1;
    const { n } = this;
    this.socket.send(JSON.stringify({ type, n, ...fields }));
    return new Promise((done) => this.answers.set(n, done));
  }

  /** Ask for a motion or power: it counts only for so long after the newest state [s]. */
  move(type: string, fields: Record<string, unknown> = {}, ttl = PATIENCE): Promise<Answer> | null {
    return this.ask(type, { heard: this.heard, ttl, ...fields });
  }

  /** Renew the motion under way. Answered only when refused. */
  alive(): void {
    if (this.socket?.readyState !== WebSocket.OPEN || this.link !== "open") return;
    this.n += 1;
    this.socket.send(JSON.stringify({ type: "alive", n: this.n, heard: this.heard, ttl: 0.25 }));
  }

  /** Be heard, and renew nothing: who is silent for 2 s may lose the driver's place. */
  ping(): void {
    if (this.socket?.readyState !== WebSocket.OPEN || this.link !== "open") return;
    this.n += 1;
    this.socket.send(JSON.stringify({ type: "ping", n: this.n }));
  }

  /** Stop, whoever drives; where the line is down it goes first when it is up again. */
  stop(): boolean {
    this.n += 1;
    if (this.socket?.readyState !== WebSocket.OPEN || this.role === "") {
      this.stopWaits = true;
      return false;
    }
    this.socket.send(JSON.stringify({ type: "stop", n: this.n, category: 1 }));
    return true;
  }

  private dial(): void {
    const socket = new WebSocket(this.address);
    this.socket = socket;
    this.n = 0;
    this.answers.clear();
    this.tell(this.link === "lost" ? "lost" : "opening");
    socket.onopen = () => socket.send(JSON.stringify({ type: "hello", version: 1, client: "legwright desk" }));
    socket.onmessage = (event: MessageEvent<string>) => this.take(JSON.parse(event.data) as RobotSaid);
    socket.onclose = () => {
      if (this.socket !== socket) return;
      this.end(this.wanted && this.heardAt > 0 ? "lost" : this.wanted ? "opening" : "closed");
      if (this.wanted) setTimeout(() => this.wanted && this.socket === null && this.dial(), WAIT);
    };
  }

  private end(state: RobotLinkState): void {
    const { socket } = this;
    this.socket = null;
    this.session = "";
    this.role = "";
    this.driver = { session: "", name: "" };
    this.answers.clear();
    socket?.close();
    this.tell(state);
  }

  private take(message: RobotSaid): void {
    if ("time" in message) this.heard = message.time;
    if ("text" in message && message.text !== undefined) message.text = sentence(message.text);
    switch (message.type) {
      case "welcome":
        this.session = message.session;
        this.card = message.robot;
        if (message.role) this.enter(message.role, message.name ?? "");
        else if (this.token !== "") this.socket?.send(JSON.stringify({ type: "sign-in", token: this.token }));
        else this.tell("outside");
        break;
      case "signed":
        this.enter(message.role, message.name);
        break;
      case "driver":
        this.driver = { session: message.session, name: message.name };
        this.tell(this.link);
        break;
      case "answer":
        this.answers.get(message.n)?.(message);
        this.answers.delete(message.n);
        break;
      case "error":
        this.trouble = message.text;
        if (message.word === "sign-in") this.token = "";
        this.tell(this.link);
        break;
      case "state":
        this.heardAt = Date.now();
        this.state = { ...this.state, ...message };
        if (this.link === "lost") this.tell("open");
        this.ear.state(this.state);
        return;
      default:
        break;
    }
    this.ear.said(message);
  }

  private enter(role: string, name: string): void {
    this.role = role;
    this.name = name;
    this.trouble = "";
    this.heardAt = Date.now();
    this.tell("open");
    const known = this.card?.fields ?? FIELDS.filter((field) => !LATER.includes(field));
    if (this.stopWaits) {
      this.stopWaits = false;
      this.stop();
    }
    void this.ask("subscribe", { stream: "desk", rate: RATE, fields: FIELDS.filter((field) => known.includes(field)), depth: 1 });
  }

  /** A line on which nothing is heard is lost, whatever the transport thinks. */
  private watch(): void {
    if (this.link === "open" && Date.now() - this.heardAt > SILENT) this.tell("lost");
  }

  private tell(state: RobotLinkState): void {
    this.link = state;
    this.ear.changed();
  }
}
