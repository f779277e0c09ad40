// What a view is, and what it is given. One view answers one question beside the figure.
import type { Cursor } from "./cursor";
import type { Figure } from "./figure/figure";
import type { Link } from "./link";
import type { Shell } from "./shell/shell";
import type { Store } from "./store";
import type { AnySaid, Received } from "./wire";

/** All that a view may use. */
export interface Desk {
  store: Store;
  link: Link;
  cursor: Cursor;
  figure: Figure;
  shell: Shell;
}

/** One question of the sheet. To add one: write a module, name it in `views.ts`. */
export interface View {
  /** Short name on the strip: one word. */
  readonly word: string;
  /** The question, as the heading says it. */
  readonly question: string;
  /** Areas of the verdict that answer it; of each area there is one question. */
  readonly areas: readonly string[];
  /** Draw into an empty place; what was heard before lies in the store. */
  mount(place: HTMLElement, desk: Desk): void;
  /** Let go of everything: listeners, plots, buffers. The place is emptied by the shell. */
  unmount(): void;
  /** A text message has come; the store has it already. */
  onMessage?(message: AnySaid): void;
  /** A block of arrays has come; the store has it already. */
  onBlock?(block: Received): void;
  /** The phase cursor has moved, 0 to 1. */
  onCursor?(phase: number): void;
  /** The figure is to show an instant: give its place back, unless the view shows it itself. */
  onFigureWanted?(): void;
  /** Colours or sizes have changed: draw anew. */
  onLook?(): void;
}
