// The walk as it was heard: curves in bins, feet, events, ground, and the moment that is shown.
import type { AnySaid, Happening, Received, WalkAbout } from "../wire";

/** Times at which a foot came down and lifted again [s]; still down: Infinity. */
export type Spans = [number, number][];

const EVENTS = 1000;
const SPANS = 8000; // of one foot; the desk keeps no more either

/** The ground as a grid. */
export interface LandGrid {
  heights: Float32Array;
  rows: number;
  columns: number;
  spacing: number;
  origin: readonly [number, number];
}

/** The robot at one moment. */
export interface Shown {
  time: number;
  live: boolean;
  arrays: Received["arrays"];
}

/** All that is known of one walk. Its size is bounded as the desk's is. */
export class Story {
  about: WalkAbout | null = null;
  /** Width of a bin [s]. */
  width = 0.02;
  bins = 0;
  /** Newest [s]. */
  time = 0;
  events: Happening[] = [];
  land: LandGrid | null = null;
  shown: Shown | null = null;
  /** By foot: truly on the ground, and felt to be. */
  touch: Spans[] = [];
  contact: Spans[] = [];
  private low = new Float32Array();
  private high = new Float32Array();

  /** Curves of a row. */
  get columns(): number {
    return this.about?.columns.length ?? 0;
  }

  /** Index of a curve; −1: none. */
  column(name: string): number {
    return this.about?.columns.indexOf(name) ?? -1;
  }

  /** Least of a curve in a bin. */
  least(bin: number, column: number): number {
    return this.low[bin * this.columns + column] ?? NaN;
  }

  /** Greatest of a curve in a bin. */
  greatest(bin: number, column: number): number {
    return this.high[bin * this.columns + column] ?? NaN;
  }

  /** What a curve was at a time: its greatest in that bin. */
  at(time: number, column: number): number {
    const bin = Math.min(Math.floor(time / this.width + 1e-6), this.bins - 1);
    return bin < 0 || column < 0 ? NaN : this.greatest(bin, column);
  }

  /** Take in a text message; whether it was about the walk. */
  take(message: AnySaid): boolean {
    if (message.type === "walk_about") {
      this.about = message;
      this.bins = 0;
      this.time = 0;
      this.events = [];
      this.land = null;
      this.shown = null;
      this.touch = message.legs.map(() => []);
      this.contact = message.legs.map(() => []);
      return true;
    }
    if (message.type === "walk_events") {
      this.events = [...(message.start ? [] : this.events), ...message.list].slice(-EVENTS);
      return true;
    }
    return false;
  }

  /** Take in a block; whether it was about the walk. */
  takeBlock({ header, arrays }: Received): boolean {
    if (header.type === "moment") {
      this.shown = { time: header.time, live: header.live, arrays };
      return true;
    }
    if (header.type === "land") {
      const [rows = 0, columns = 0] = header.arrays[0]?.shape ?? [];
      const heights = (arrays["heights"] ?? new Float32Array()).slice();
      this.land = { heights, rows, columns, spacing: header.spacing, origin: header.origin };
      return true;
    }
    if (header.type !== "run") return false;
    const { low, high, edges } = arrays;
    const count = header.arrays[0]?.shape[0] ?? 0;
    if (header.start) {
      this.bins = 0;
      this.touch = this.touch.map(() => []);
      this.contact = this.contact.map(() => []);
    }
    const need = (header.at + count) * this.columns;
    if (low && high) {
      this.room(need);
      this.low.set(low, header.at * this.columns);
      this.high.set(high, header.at * this.columns);
    }
    this.bins = header.at + count;
    this.width = header.width;
    this.time = header.time;
    if (edges) this.switch(edges);
    return true;
  }

  private room(need: number): void {
    if (this.low.length >= need) return;
    const size = Math.max(need, this.low.length * 1.5, 4096);
    const [low, high] = [new Float32Array(size), new Float32Array(size)];
    low.set(this.low);
    high.set(this.high);
    this.low = low;
    this.high = high;
  }

  private switch(edges: Float32Array): void {
    for (let i = 0; i + 3 < edges.length; i += 4) {
      const [leg = 0, kind = 0, time = 0, on = 0] = edges.subarray(i, i + 4);
      const spans = (kind < 0.5 ? this.touch : this.contact)[leg];
      if (spans === undefined) continue;
      const last = spans[spans.length - 1];
      if (on > 0.5) spans.push([time, Infinity]);
      else if (last !== undefined && last[1] === Infinity) last[1] = time;
      if (spans.length > SPANS) spans.splice(0, SPANS / 2);
    }
  }
}
