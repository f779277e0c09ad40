// What the driver's hands wish, from game controller, keyboard and screen; the deadman among them.
import type { Hand } from "../wire";

/** What is wished now. */
export interface Wish {
  /** Whether the deadman is held. */
  held: boolean;
  /** Shares of full speed: forward, to the left, turn to the left. */
  twist: readonly [number, number, number];
  /** With what; empty: nothing is held. */
  by: "" | "controller" | "keys" | "screen";
}

export const NOTHING: Wish = { held: false, twist: [0, 0, 0], by: "" };

/** Places of buttons in the W3C standard gamepad. */
const BUTTONS = [
  "south", "east", "west", "north", "left shoulder", "right shoulder", "left trigger", "right trigger",
  "back", "start", "left stick", "right stick", "up", "down", "left", "right",
];
const AXES = ["left x", "left y", "right x", "right y"];

/** A stick's deflection with dead zone and response, as on the robot: (1 − e) v + e v³. */
export function shaped(value: number, hand: Hand): number {
  const size = Number.isFinite(value) ? Math.min(Math.abs(value), 1) : 0;
  const free = Math.max(0, (size - hand.dead_zone) / (1 - hand.dead_zone));
  const bent = (1 - hand.expo) * free + hand.expo * free ** 3;
  return value > 0 ? bent : -bent;
}

/** What a game controller says now. */
export interface PadReading {
  wish: Wish;
  /** Buttons by place that are held. */
  held: ReadonlySet<string>;
}

/** Read the first controller that has the standard layout; null without one. */
export function readPad(hand: Hand): PadReading | null {
  const pad = [...navigator.getGamepads()].find((each) => each?.connected && each.mapping === "standard");
  if (!pad) return null;
  const held = new Set(BUTTONS.filter((_, i) => pad.buttons[i]?.pressed));
  const stick = (name: string): number => shaped(pad.axes[AXES.indexOf(name)] ?? 0, hand);
  const forward = stick(hand.forward) * (hand.forward_reversed ? 1 : -1);
  const down = held.has(hand.deadman);
  const twist: Wish["twist"] = down ? [forward, -stick(hand.sideways), -stick(hand.turn)] : [0, 0, 0];
  return { wish: { held: down, twist, by: down ? "controller" : "" }, held };
}

const KEYS: Record<string, readonly [number, number, number]> = {
  ArrowUp: [1, 0, 0], KeyW: [1, 0, 0], ArrowDown: [-1, 0, 0], KeyS: [-1, 0, 0],
  KeyA: [0, 1, 0], KeyD: [0, -1, 0], ArrowLeft: [0, 0, 1], ArrowRight: [0, 0, -1],
  KeyQ: [0, 0, 1], KeyE: [0, 0, -1],
};

/** Keys that are held: Shift is the deadman, arrows and W A S D Q E the way. */
export class Keys {
  private readonly down = new Set<string>();
  private shift = false;

  constructor(private readonly active: () => boolean, private readonly moved: () => void) {
    addEventListener("keydown", (event) => this.press(event), true);
    addEventListener("keyup", (event) => this.lift(event), true);
  }

  /** Let go of everything: the page is not looked at any more. */
  release(): void {
    this.down.clear();
    this.shift = false;
    this.moved();
  }

  get wish(): Wish {
    if (!this.shift) return NOTHING;
    const twist: [number, number, number] = [0, 0, 0];
    for (const code of this.down) KEYS[code]?.forEach((value, i) => (twist[i] = Math.max(-1, Math.min(1, (twist[i] ?? 0) + value))));
    return { held: true, twist, by: "keys" };
  }

  private press(event: KeyboardEvent): void {
    const { target } = event;
    const typing = target instanceof HTMLElement && target.matches("input, select, textarea");
    if (!this.active() || typing || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Shift") this.shift = true;
    else if (event.shiftKey && event.code in KEYS) this.down.add(event.code);
    else return;
    if (event.key !== "Shift") {
      event.preventDefault();
      event.stopPropagation();
    }
    this.moved();
  }

  private lift(event: KeyboardEvent): void {
    if (event.key === "Shift") {
      this.shift = false;
      this.down.clear();
    } else if (!this.down.delete(event.code)) {
      return;
    }
    this.moved();
  }
}
