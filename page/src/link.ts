// The line to the desk: opens again by itself, numbers what is asked, hands on what is said.
import { heard } from "./sentences";
import type { AnyAsked, AnySaid, Received } from "./wire";
import { readBlock, VERSION } from "./wire";

/** A message without its number. */
type Unnumbered<T> = T extends { n: number } ? Omit<T, "n"> : never;
export type Asking = Unnumbered<AnyAsked>;

export type LinkState = "opening" | "open" | "lost";

export interface Heard {
  state(state: LinkState): void;
  message(message: AnySaid): void;
  block(block: Received): void;
}

const FIRST_WAIT = 250;
const LONGEST_WAIT = 4000;

/** The WebSocket to the desk. */
export class Link {
  state: LinkState = "opening";
  /** When something was last heard, as `Date.now()`; 0: never. */
  heardAt = 0;
  private socket: WebSocket | null = null;
  private wait = FIRST_WAIT;
  /** Number of the last question that was asked. */
  asked = 0;

  constructor(
    private readonly address: string,
    private readonly heard: Heard,
  ) {
    this.open();
    addEventListener("online", () => this.hurry());
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden) this.hurry();
    });
  }

  /** Ask for something; returns its number, 0 while the line is down. */
  send(asking: Asking): number {
    if (this.state !== "open" || this.socket === null) return 0;
    this.asked += 1;
    this.socket.send(JSON.stringify({ ...asking, n: this.asked }));
    return this.asked;
  }

  private hurry(): void {
    if (this.state === "lost" && this.socket === null) this.open();
  }

  private open(): void {
    const socket = new WebSocket(this.address);
    socket.binaryType = "arraybuffer";
    this.socket = socket;
    socket.onopen = () => {
      socket.send(JSON.stringify({ type: "hello", version: VERSION }));
    };
    socket.onmessage = (event: MessageEvent<string | ArrayBuffer>) => {
      this.heardAt = Date.now();
      this.wait = FIRST_WAIT;
      if (this.state !== "open") this.tell("open");
      if (typeof event.data === "string") this.heard.message(heard<AnySaid>(event.data));
      else this.heard.block(readBlock(event.data));
    };
    socket.onclose = () => {
      if (this.socket !== socket) return;
      this.socket = null;
      this.tell("lost");
      setTimeout(() => this.socket ?? this.open(), this.wait);
      this.wait = Math.min(this.wait * 2, LONGEST_WAIT);
    };
  }

  private tell(state: LinkState): void {
    this.state = state;
    this.heard.state(state);
  }
}
