// Where the figure is seen from: always from infinitely far, as a drawing is.
import { OrthographicCamera, Vector3 } from "three";

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

/** The eye: direction, what it looks at, and how large. */
export class Sight {
  readonly camera = new OrthographicCamera();
  aspect: Aspect | null = "isometric";
  private turn = ASPECTS.isometric[0];
  private lift = ASPECTS.isometric[1];
  private readonly at = new Vector3(0, 0, 0.08);
  /** Screen pixels a metre. */
  scale = 1000;
  private width = 1;
  private height = 1;

  constructor() {
    this.camera.matrixAutoUpdate = false;
  }

  /** Take a named view. */
  take(aspect: Aspect): void {
    this.aspect = aspect;
    [this.turn, this.lift] = ASPECTS[aspect];
    this.update();
  }

  /** Size of the picture [px]. */
  resize(width: number, height: number): void {
    this.width = Math.max(width, 1);
    this.height = Math.max(height, 1);
    this.update();
  }

  /** Go round by angles [rad]. */
  orbit(turn: number, lift: number): void {
    this.aspect = null;
    this.turn += turn;
    this.lift = Math.min(QUARTER, Math.max(-QUARTER, this.lift + lift));
    this.update();
  }

  /** Shift what is looked at [px]. */
  pan(x: number, y: number): void {
    const { right, up } = this.axes();
    this.at.addScaledVector(right, -x / this.scale).addScaledVector(up, y / this.scale);
    this.update();
  }

  /** Larger or smaller about a point of the picture [px from its middle, y down]. */
  zoom(factor: number, x = 0, y = 0): void {
    const next = Math.min(60000, Math.max(40, this.scale * factor));
    this.pan(-x, -y);
    this.scale = next;
    this.pan(x, y);
  }

  /** Look so that all points are in the picture; `pad` stays free on each side [px]. */
  fit(points: readonly Vector3[], pad: readonly [number, number, number, number]): void {
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
    const depth = this.at.dot(back);
    this.at.set(0, 0, 0).addScaledVector(right, x).addScaledVector(up, y).addScaledVector(back, depth);
    this.update();
  }

  /** Where a point of the ground frame lies in the picture [px, y down]; z: larger is nearer. */
  project(point: Vector3): { x: number; y: number; z: number } {
    const { right, up, back } = this.axes();
    const from = point.clone().sub(this.at);
    return {
      x: this.width / 2 + from.dot(right) * this.scale,
      y: this.height / 2 - from.dot(up) * this.scale,
      z: from.dot(back),
    };
  }

  /** A shift in the picture [px, y down] as a shift in the picture's plane [m]. */
  shift(x: number, y: number): Vector3 {
    const { right, up } = this.axes();
    return new Vector3()
      .addScaledVector(right, x / this.scale)
      .addScaledVector(up, -y / this.scale);
  }

  /** Unit vectors of the picture in the ground frame; `back` points at the eye. */
  axes(): { right: Vector3; up: Vector3; back: Vector3 } {
    const [ct, st, cl, sl] = [
      Math.cos(this.turn), Math.sin(this.turn), Math.cos(this.lift), Math.sin(this.lift),
    ];
    return {
      right: new Vector3(-st, ct, 0),
      up: new Vector3(-sl * ct, -sl * st, cl),
      back: new Vector3(cl * ct, cl * st, sl),
    };
  }

  private update(): void {
    const { right, up, back } = this.axes();
    const { camera } = this;
    const eye = this.at.clone().addScaledVector(back, 10);
    camera.matrix.makeBasis(right, up, back).setPosition(eye);
    camera.matrixWorld.copy(camera.matrix);
    camera.matrixWorldInverse.copy(camera.matrix).invert();
    const half = 1 / (2 * this.scale);
    camera.left = -this.width * half;
    camera.right = this.width * half;
    camera.top = this.height * half;
    camera.bottom = -this.height * half;
    camera.near = 5;
    camera.far = 15;
    camera.updateProjectionMatrix();
  }
}

/** The axes as the triad in the corner shows them. */
export const UNIT: readonly [string, Vector3][] = [
  ["x", new Vector3(1, 0, 0)],
  ["y", new Vector3(0, 1, 0)],
  ["z", new Vector3(0, 0, 1)],
];
