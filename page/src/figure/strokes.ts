// Lines of a width in pixels, left out where a solid stands before them.
import type { Depth } from "./depth";
import type { View } from "./sight";

/** How a line is drawn: width, dash and gap [px]; no dash: continuous. */
export interface Pen {
  width: number;
  colour: string;
  dash?: number;
  gap?: number;
}

const SLACK_M = 0.00005; // what lies on a face is seen
const JOIN = 2; // gaps up to so many pixels are no gaps

/** Collects the pieces that are seen, by pen, in the order in which pens come. */
export class Strokes {
  private readonly pieces = new Map<string, { pen: Pen; ends: number[] }>();
  private view: View = { rows: new Float64Array(12), scale: 1 };

  constructor(private readonly depth: Depth) {}

  /** Begin a picture, seen so. */
  begin(view: View): void {
    this.pieces.clear();
    this.view = view;
  }

  /** A line in the ground frame; `start` shifts its dashes [px]. */
  line(a: ArrayLike<number>, b: ArrayLike<number>, pen: Pen, start = 0): void {
    const r = this.view.rows;
    const put = (p: ArrayLike<number>, row: number): number =>
      r[row]! * p[0]! + r[row + 1]! * p[1]! + r[row + 2]! * p[2]! + r[row + 3]!;
    this.edge(put(a, 0), put(a, 4), put(a, 8), put(b, 0), put(b, 4), put(b, 8), 0, pen, start);
  }

  /**
   * A line in the picture: ends x, y [px], depth [m]; `own` is the solid that it bounds, 0: none;
   * `other` one more, on which it lies too.
   */
  edge(
    ax: number, ay: number, az: number, bx: number, by: number, bz: number,
    own: number, pen: Pen, start = 0, other = 0,
  ): void {
    const span = this.inside(ax, ay, bx - ax, by - ay);
    if (span === null) return;
    const [t0, t1] = span;
    const ends = this.ends(pen);
    if (this.depth.clears(ax, ay, bx, by)) return dashes(ends, ax, ay, bx, by, t0, t1, pen, start);
    const long = Math.hypot(bx - ax, by - ay) * (t1 - t0);
    const steps = Math.max(1, Math.ceil(long));
    let from = -1, to = -1;
    const put = (): void => {
      if (from < 0 || (to - from < JOIN && steps > 2 * JOIN)) return;
      const s = t0 + ((t1 - t0) * from) / steps, e = t0 + ((t1 - t0) * to) / steps;
      dashes(ends, ax, ay, bx, by, s, e, pen, start);
    };
    for (let i = 0; i <= steps; i += 1) {
      const t = t0 + ((t1 - t0) * i) / steps;
      if (this.depth.sees(ax + (bx - ax) * t, ay + (by - ay) * t, az + (bz - az) * t, own, other, SLACK_M)) {
        if (from < 0) from = i;
        to = i;
      } else if (from >= 0 && i - to > JOIN) {
        put();
        from = -1;
      }
    }
    put();
  }

  /** Draw all. */
  paint(on: CanvasRenderingContext2D): void {
    on.lineCap = "round";
    for (const { pen, ends } of this.pieces.values()) {
      on.strokeStyle = pen.colour;
      on.lineWidth = pen.width;
      on.beginPath();
      for (let i = 0; i < ends.length; i += 4) {
        if (i === 0 || ends[i] !== ends[i - 2] || ends[i + 1] !== ends[i - 1]) on.moveTo(ends[i]!, ends[i + 1]!);
        on.lineTo(ends[i + 2]!, ends[i + 3]!);
      }
      on.stroke();
    }
  }

  private ends(pen: Pen): number[] {
    const key = `${pen.width} ${pen.colour}`;
    let found = this.pieces.get(key);
    if (found === undefined) this.pieces.set(key, (found = { pen, ends: [] }));
    return found.ends;
  }

  /** Share of a line that lies in the picture. */
  private inside(x: number, y: number, dx: number, dy: number): readonly [number, number] | null {
    let from = 0, to = 1;
    for (const [p, d, size] of [[x, dx, this.depth.width], [y, dy, this.depth.height]] as const) {
      if (Math.abs(d) < 1e-9) {
        if (p < 0 || p > size) return null;
        continue;
      }
      const one = -p / d, two = (size - p) / d;
      from = Math.max(from, Math.min(one, two));
      to = Math.min(to, Math.max(one, two));
    }
    return from < to || (dx === 0 && dy === 0) ? [from, to] : null;
  }
}

/** A piece from share s to e, its dashes counted from the line's beginning. */
function dashes(
  ends: number[], ax: number, ay: number, bx: number, by: number, s: number, e: number, pen: Pen, start: number,
): void {
  const put = (t: number, u: number): void => {
    ends.push(ax + (bx - ax) * t, ay + (by - ay) * t, ax + (bx - ax) * u, ay + (by - ay) * u);
  };
  const { dash = 0, gap = 0 } = pen;
  const long = Math.hypot(bx - ax, by - ay);
  if (dash <= 0 || long === 0) return put(s, e);
  const period = dash + gap, first = start + s * long, last = start + e * long;
  for (let at = Math.floor(first / period) * period; at < last; at += period) {
    const [on, off] = [Math.max(first, at), Math.min(last, at + dash)];
    if (off > on) put((on - start) / long, (off - start) / long);
  }
}
