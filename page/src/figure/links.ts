// The robot's links in the picture: what stands nearest, and the edges of all in ink.
import type { Palette } from "../look";
import type { Store } from "../store";
import type { Shape } from "../wire";
import { crossings, hold, meet } from "./crossings";
import type { Seen } from "./crossings";
import type { Depth } from "./depth";
import type { View } from "./sight";
import { bodyOf, extent } from "./solids";
import { Pose, Vec } from "./space";
import type { Pen, Strokes } from "./strokes";
import { Tree } from "./tree";

/** Pens of a link: outline, and inner edges; none: inner edges are not drawn. */
interface Pens {
  outer: Pen;
  inner: Pen | null;
}

interface Drawn extends Seen {
  link: string;
  leg: string;
}

const AROUND = 48; // pieces of a ball's outline
const EDGEWISE = 1e-3; // a face that looks less at the eye than this is a line

/** All links of one shape. */
export class Links {
  readonly tree: Tree;
  private readonly drawn: Drawn[];
  private readonly legOf: Map<string, string>;
  private readonly all = new Pose();
  private readonly eye = new Pose();
  private scale = 1;

  constructor(readonly shape: Shape, legs: Record<string, string[]>) {
    this.tree = new Tree(shape);
    this.legOf = legLinks(shape, legs);
    this.drawn = shape.solids.map((solid): Drawn => {
      const body = bodyOf(solid);
      const many = body.kind === "hull" ? [body.corners.length, body.faces.length] as const : [1, 0] as const;
      return {
        link: solid.link, leg: this.leg(solid.link), body,
        seen: new Float64Array(3 * many[0]), front: new Uint8Array(many[1]),
        planes: new Float64Array(3 * many[1]), box: new Float64Array(6),
      };
    });
  }

  /** Leg that a link belongs to; empty: none. */
  leg(link: string): string {
    return this.legOf.get(link) ?? "";
  }

  /** Set all poses. */
  place(body: Pose, q: ArrayLike<number>): void {
    this.tree.place(body, q);
  }

  /** Work out where everything is in the picture. */
  see({ rows, scale }: View): void {
    this.scale = scale;
    this.eye.rows.set(rows);
    for (const each of this.drawn) {
      const pose = this.tree.links.get(each.link);
      if (pose) this.project(each, this.all.product(this.eye, pose).rows);
    }
  }

  /** Stand before what lies behind. */
  cover(depth: Depth): void {
    this.drawn.forEach(({ body, seen }, i) => {
      if (body.kind === "ball") depth.ball(seen[0]!, seen[1]!, seen[2]!, body.radius * this.scale, i + 1);
    });
    this.drawn.forEach(({ body, seen, front, planes }, i) => {
      if (body.kind !== "hull") return;
      body.faces.forEach((face, f) => {
        if (front[f] === 1) depth.face(seen, face, planes[3 * f]!, planes[3 * f + 1]!, planes[3 * f + 2]!, i + 1);
      });
    });
  }

  /** Ink: lifted legs thin and grey, lit links in heavy lines. */
  ink(strokes: Strokes, palette: Palette, lifted: ReadonlySet<string>, lit: ReadonlySet<string>, wrong: boolean): void {
    const pen = (width: number, colour: string): Pen => ({ width: width * palette.weight, colour });
    const pens = (link: string, leg: string): Pens => {
      if (lit.has(link)) return { outer: pen(3, wrong ? palette.red : palette.ink), inner: pen(0.75, wrong ? palette.red : palette.ink) };
      if (lifted.has(leg)) return { outer: pen(1, palette.line), inner: pen(0.75, palette.line) };
      return { outer: pen(2, palette.ink), inner: pen(0.75, palette.ink) };
    };
    const all = this.drawn.map((each) => pens(each.link, each.leg));
    this.drawn.forEach((each, i) => this.edges(strokes, each, i + 1, all[i]!));
    this.crossings(strokes, (i, k) => {
      const [one, two] = [all[i]!, all[k]!], [a, b] = [this.drawn[i]!, this.drawn[k]!];
      if (a.link === b.link) return one.inner ?? one.outer;
      // Where a leg enters the body the line is the leg's; what is lit is lit all round.
      return lit.has(a.link) || (!lit.has(b.link) && a.leg !== "" && (b.leg === "" || one.outer.width > two.outer.width)) ? one.outer : two.outer;
    });
  }

  /** Lines where solids pass through each other; neighbours do, and parts of one link. */
  private crossings(strokes: Strokes, pen: (i: number, k: number) => Pen): void {
    this.drawn.forEach((a, i) => {
      for (let k = i + 1; k < this.drawn.length; k += 1) {
        const b = this.drawn[k]!;
        if (!meet(a, b)) continue;
        crossings(a, b, this.scale, (ax, ay, az, bx, by, bz) => {
          strokes.edge(ax, ay, az, bx, by, bz, i + 1, pen(i, k), 0, k + 1);
        });
      }
    });
  }

  /** Outlines alone, thin, grey and dashed: how it was before. */
  ghost(strokes: Strokes, palette: Palette): void {
    const outer = { width: palette.weight, colour: palette.line, dash: 8, gap: 3 };
    for (const each of this.drawn) this.edges(strokes, each, 0, { outer, inner: null });
  }

  /** Numbers of the solids of some links, as the depths name them. */
  numbers(links: ReadonlySet<string>): Set<number> {
    return new Set(this.drawn.flatMap(({ link }, i) => (links.has(link) ? [i + 1] : [])));
  }

  /** Link of a solid by its number. */
  link(number: number): string {
    return this.drawn[number - 1]?.link ?? "";
  }

  /** Points that hold all solids, in the ground frame. */
  corners(): Vec[] {
    return this.drawn.flatMap(({ link, body }) => {
      const pose = this.tree.links.get(link);
      return pose ? extent(body).map((corner) => pose.point(corner)) : [];
    });
  }

  /** How far a leg reaches from a place of the picture along a unit way [px]. */
  beyond(leg: string, x: number, y: number, ux: number, uy: number): number {
    let far = 0;
    for (const { leg: own, body, seen } of this.drawn) {
      if (own !== leg) continue;
      const around = body.kind === "ball" ? body.radius * this.scale : 0;
      for (let i = 0; i < seen.length; i += 3) far = Math.max(far, (seen[i]! - x) * ux + (seen[i + 1]! - y) * uy + around);
    }
    return far;
  }

  /** Radius of the ball that a leg ends in at a place of the picture [px]; 0: there is none. */
  around(leg: string, x: number, y: number): number {
    return Math.max(0, ...this.drawn.map(({ body, seen, leg: own }) => {
      const r = body.kind === "ball" && own === leg ? body.radius * this.scale : 0;
      return Math.hypot(seen[0]! - x, seen[1]! - y) < r ? r : 0;
    }));
  }

  /** Middle of a link's solids in the ground frame. */
  middle(link: string): Vec | null {
    const pose = this.tree.links.get(link);
    if (!pose) return null;
    const points = this.drawn.filter((each) => each.link === link).flatMap(({ body }) => extent(body));
    return pose.point(points.reduce((sum, point) => sum.plus(point, 1 / points.length), new Vec()));
  }

  private project(each: Drawn, m: Float64Array): void {
    const { body, seen, front, planes } = each;
    const points = body.kind === "hull" ? body.corners : [body.middle];
    points.forEach(({ x, y, z }, i) => {
      seen[3 * i] = m[0]! * x + m[1]! * y + m[2]! * z + m[3]!;
      seen[3 * i + 1] = m[4]! * x + m[5]! * y + m[6]! * z + m[7]!;
      seen[3 * i + 2] = m[8]! * x + m[9]! * y + m[10]! * z + m[11]!;
    });
    hold(each, this.scale);
    if (body.kind !== "hull") return;
    body.normals.forEach(({ x, y, z }, f) => {
      const near = m[8]! * x + m[9]! * y + m[10]! * z;
      front[f] = near > EDGEWISE ? 1 : 0;
      if (front[f] === 0) return;
      // The face's plane as a slope of depth over the picture; the eye's rows are in pixels.
      const share = -1 / (near * this.scale * this.scale), i = 3 * body.faces[f]![0]!;
      const dx = share * (m[0]! * x + m[1]! * y + m[2]! * z), dy = share * (m[4]! * x + m[5]! * y + m[6]! * z);
      planes[3 * f] = seen[i + 2]! - dx * seen[i]! - dy * seen[i + 1]!;
      planes[3 * f + 1] = dx;
      planes[3 * f + 2] = dy;
    });
  }

  private edges(strokes: Strokes, { body, seen, front }: Drawn, own: number, { outer, inner }: Pens): void {
    if (body.kind === "ball") {
      this.circle(strokes, seen, body.radius * this.scale, own, outer);
      return;
    }
    for (const { a, b, one, two, sharp } of body.edges) {
      const near = front[one] === 1, far = two >= 0 && front[two] === 1;
      const pen = near !== far ? outer : near && sharp ? inner : null;
      if (pen === null) continue;
      const [i, k] = [3 * a, 3 * b];
      strokes.edge(seen[i]!, seen[i + 1]!, seen[i + 2]!, seen[k]!, seen[k + 1]!, seen[k + 2]!, own, pen);
    }
  }

  private circle(strokes: Strokes, [x = 0, y = 0, z = 0]: Float64Array, r: number, own: number, pen: Pen): void {
    for (let i = 0; i < AROUND; i += 1) {
      const [a, b] = [(2 * Math.PI * i) / AROUND, (2 * Math.PI * (i + 1)) / AROUND];
      strokes.edge(
        x + r * Math.cos(a), y + r * Math.sin(a), z, x + r * Math.cos(b), y + r * Math.sin(b), z,
        own, pen, (2 * Math.PI * r * i) / AROUND,
      );
    }
  }
}

function legLinks(shape: Shape, legs: Record<string, string[]>): Map<string, string> {
  const legOfJoint = new Map<string, string>();
  for (const [leg, joints] of Object.entries(legs)) {
    for (const joint of joints) legOfJoint.set(joint, leg);
  }
  const found = new Map<string, string>();
  for (const joint of shape.joints) {
    const leg = legOfJoint.get(joint.name) ?? found.get(joint.parent);
    if (leg !== undefined) found.set(joint.child, leg);
  }
  return found;
}

/** Links that the open finding speaks of. */
export function litLinks(links: Links, store: Store): Set<string> {
  const lit = new Set<string>();
  for (const part of store.opened?.parts ?? []) {
    const joint = links.shape.joints.find((each) => each.name === part);
    if (joint) lit.add(joint.child);
    else if (links.shape.links.includes(part)) lit.add(part);
    else if (store.welcome?.legs[part]) {
      for (const link of links.shape.links) if (links.leg(link) === part) lit.add(link);
    }
  }
  return lit;
}
