// Where the links of a shape lie, given its joints.
import type { Joint, Shape } from "../wire";
import { Pose, Vec } from "./space";

/** Places the links of a shape; keeps its poses between calls. */
export class Tree {
  readonly links = new Map<string, Pose>();
  private readonly base: Pose;
  private readonly placements: Pose[];
  private readonly axes: Vec[];
  private readonly byName = new Map<string, number>();
  private readonly moved = new Pose();

  constructor(private readonly shape: Shape) {
    this.base = Pose.of(shape.base);
    this.placements = shape.joints.map((joint) => Pose.of(joint.placement));
    this.axes = shape.joints.map((joint) => Vec.of(joint.axis).unit());
    shape.joints.forEach((joint, i) => this.byName.set(joint.name, i));
    for (const link of shape.links) this.links.set(link, new Pose());
  }

  /** Set all links' poses in the ground frame. */
  place(body: Pose, q: ArrayLike<number>): void {
    this.links.get(this.shape.root)?.product(body, this.base);
    this.shape.joints.forEach((joint, i) => {
      const parent = this.links.get(joint.parent);
      const child = this.links.get(joint.child);
      const placement = this.placements[i];
      const axis = this.axes[i];
      if (!parent || !child || !placement || !axis) return;
      child.product(parent, placement);
      const position = this.position(joint, q);
      if (joint.kind === "fixed" || position === 0) return;
      if (joint.kind === "prismatic") this.moved.shift(axis.times(position));
      else this.moved.turn(axis, position);
      child.product(child, this.moved);
    });
  }

  private position(joint: Joint, q: ArrayLike<number>): number {
    if (joint.column >= 0) return q[joint.column] ?? 0;
    if (joint.mimics === "") return joint.held;
    const led = this.shape.joints[this.byName.get(joint.mimics) ?? -1];
    return led === undefined ? joint.offset : joint.multiplier * this.position(led, q) + joint.offset;
  }
}
