// Where the figure is seen from: always from infinitely far, as a drawing is.
import { Vec } from "./space";

/** The named views of the sheet. */
export type Aspect = "isometric" | "plan" | "side" | "front";

const QUARTER = Math.PI / 2;
/** Turn about z and height over the horizon [rad]; isometric after ISO 5456-3. */
const ASPECTS: Record<Aspect, readonly [number, number]> = {
  isometric: [(-3 * Math.PI) / 4, Math.atan(Math.SQRT1_2)],
  plan: [Math.PI, QUARTER],
  side: [-QUARTER, 0],
  front: [0, 0],
};

/** A point of the ground frame in the picture: rows give x, y down [px] and depth towards the eye [m]. */
export interface View {
  rows: Float64Array;
  /** Pixels a metre. */
  scale: number;
}

/** The eye: direction, what it looks at, and how large. */
export class Sight {
  aspect: Aspect | null = "isometric";
  private turn = ASPECTS.isometric[0];
  private lift = ASPECTS.isometric[1];
  private at = new Vec(0, 0, 0.08);
  /** Screen pixels a metre. */
  scale = 1000;
  private width = 1;
  private height = 1;

  /** Take a named view. */
  take(aspect: Aspect): void {
    this.aspect = aspect;
    [this.turn, this.lift] = ASPECTS[aspect];
  }

  /** Size of the picture [px]. */
  resize(width: number, height: number): void {
    this.width = Math.max(width, 1);
    this.height = Math.max(height, 1);
  }

  /** Go round by angles [rad]. */
  orbit(turn: number, lift: number): void {
    this.aspect = null;
    this.turn += turn;
    this.lift = Math.min(QUARTER, Math.max(-QUARTER, this.lift + lift));
  }

  /** Shift what is looked at [px]. */
  pan(x: number, y: number): void {
    const { right, up } = this.axes();
    this.at = this.at.plus(right, -x / this.scale).plus(up, y / this.scale);
  }

  /** Larger or smaller about a point of the picture [px from its middle, y down]. */
  zoom(factor: number, x = 0, y = 0): void {
    const next = Math.min(60000, Math.max(40, this.scale * factor));
    this.pan(-x, -y);
    this.scale = next;
    this.pan(x, y);
  }

  /** Look so that all points are in the picture; `pad` stays free on each side [px]. */
  fit(points: readonly Vec[], pad: readonly [number, number, number, number]): void {
    if (points.length === 0) return;
    const { right, up } = this.axes();
    const xs = points.map((p) => p.dot(right));
    const ys = points.map((p) => p.dot(up));
    const [left, rightmost] = [Math.min(...xs), Math.max(...xs)];
    const [bottom, top] = [Math.min(...ys), Math.max(...ys)];
    const [padTop, padRight, padBottom, padLeft] = pad;
    const wide = Math.max(60, this.width - padLeft - padRight);
    const high = Math.max(60, this.height - padTop - padBottom);
    this.scale = Math.min(wide / (rightmost - left || 1), high / (top - bottom || 1));
    const x = (left + rightmost) / 2 + (padRight - padLeft) / 2 / this.scale;
    const y = (bottom + top) / 2 + (padTop - padBottom) / 2 / this.scale;
    const { back } = this.axes();
    this.at = right.times(x).plus(up, y).plus(back, this.at.dot(back));
  }

  /** Where a point of the ground frame lies in the picture [px, y down]; z: larger is nearer. */
  project(point: Vec): { x: number; y: number; z: number } {
    const { right, up, back } = this.axes();
    const from = point.minus(this.at);
    return {
      x: this.width / 2 + from.dot(right) * this.scale,
      y: this.height / 2 - from.dot(up) * this.scale,
      z: from.dot(back),
    };
  }

  /** A place in the picture [px, y down] at a depth [m] as a point of the ground frame. */
  place(x: number, y: number, depth: number): Vec {
    const { back } = this.axes();
    return this.at.plus(this.shift(x - this.width / 2, y - this.height / 2)).plus(back, depth);
  }

  /** How the picture is seen now. */
  view(): View {
    const { right, up, back } = this.axes();
    const { at, scale, width, height } = this;
    const rows = new Float64Array([
      right.x * scale, right.y * scale, right.z * scale, width / 2 - right.dot(at) * scale,
      -up.x * scale, -up.y * scale, -up.z * scale, height / 2 + up.dot(at) * scale,
      back.x, back.y, back.z, -back.dot(at),
    ]);
    return { rows, scale };
  }

  /** A shift in the picture [px, y down] as a shift in the picture's plane [m]. */
  shift(x: number, y: number): Vec {
    const { right, up } = this.axes();
    return right.times(x / this.scale).plus(up, -y / this.scale);
  }

  /** Unit vectors of the picture in the ground frame; `back` points at the eye. */
  axes(): { right: Vec; up: Vec; back: Vec } {
    const [ct, st, cl, sl] = [
      Math.cos(this.turn), Math.sin(this.turn), Math.cos(this.lift), Math.sin(this.lift),
    ];
    return {
      right: new Vec(-st, ct, 0),
      up: new Vec(-sl * ct, -sl * st, cl),
      back: new Vec(cl * ct, cl * st, sl),
    };
  }
}
