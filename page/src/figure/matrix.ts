// Poses as 4×4 numbers in column order, the order that WebGL takes.
import { Matrix4, Vector3 } from "three";
import type { Joint, Shape } from "../wire";

/** A pose that came row by row. */
export function fromRows(rows: readonly number[]): Matrix4 {
  return new Matrix4().fromArray(rows as number[]).transpose();
}

/** A pose from x, y, z [m] and a quaternion w, x, y, z. */
export function fromBody(seven: ArrayLike<number>, at = 0): Matrix4 {
  const [x, y, z, qw, qx, qy, qz] = Array.from({ length: 7 }, (_, i) => seven[at + i] ?? 0) as [
    number, number, number, number, number, number, number,
  ];
  const xx = qx * qx, yy = qy * qy, zz = qz * qz;
  return new Matrix4().set(
    1 - 2 * (yy + zz), 2 * (qx * qy - qw * qz), 2 * (qx * qz + qw * qy), x,
    2 * (qx * qy + qw * qz), 1 - 2 * (xx + zz), 2 * (qy * qz - qw * qx), y,
    2 * (qx * qz - qw * qy), 2 * (qy * qz + qw * qx), 1 - 2 * (xx + yy), z,
    0, 0, 0, 1,
  );
}

/** Places the links of a shape; keeps its matrices between calls. */
export class Tree {
  readonly links = new Map<string, Matrix4>();
  private readonly base: Matrix4;
  private readonly placements: Matrix4[];
  private readonly axes: Vector3[];
  private readonly byName = new Map<string, number>();
  private readonly turn = new Matrix4();

  constructor(private readonly shape: Shape) {
    this.base = fromRows(shape.base);
    this.placements = shape.joints.map((joint) => fromRows(joint.placement));
    this.axes = shape.joints.map((joint) => new Vector3(...joint.axis));
    shape.joints.forEach((joint, i) => this.byName.set(joint.name, i));
    for (const link of shape.links) this.links.set(link, new Matrix4());
  }

  /** Set all links' poses in the ground frame. */
  place(body: Matrix4, q: ArrayLike<number>): void {
    this.links.get(this.shape.root)?.multiplyMatrices(body, this.base);
    this.shape.joints.forEach((joint, i) => {
      const parent = this.links.get(joint.parent);
      const child = this.links.get(joint.child);
      const placement = this.placements[i];
      const axis = this.axes[i];
      if (!parent || !child || !placement || !axis) return;
      child.multiplyMatrices(parent, placement);
      const position = this.position(joint, q);
      if (joint.kind === "fixed" || position === 0) return;
      if (joint.kind === "prismatic") this.turn.makeTranslation(axis.clone().multiplyScalar(position));
      else this.turn.makeRotationAxis(axis, position);
      child.multiply(this.turn);
    });
  }

  private position(joint: Joint, q: ArrayLike<number>): number {
    if (joint.column >= 0) return q[joint.column] ?? 0;
    if (joint.mimics === "") return joint.held;
    const led = this.shape.joints[this.byName.get(joint.mimics) ?? -1];
    return led === undefined ? joint.offset : joint.multiplier * this.position(led, q) + joint.offset;
  }
}
