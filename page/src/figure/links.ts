// The robot's links in the picture: faces in the sheet's colour, edges in ink.
import {
  BufferAttribute,
  BufferGeometry,
  Color,
  Group,
  Matrix4,
  Mesh,
  MeshBasicMaterial,
  Vector2,
  Vector3,
} from "three";
import type { Shape, Solid } from "../wire";
import type { Palette } from "../look";
import { Edges } from "./strokes";
import { linkMesh } from "./solids";
import { Tree } from "./matrix";

interface Drawn {
  link: string;
  leg: string;
  faces: Mesh<BufferGeometry, MeshBasicMaterial>;
  edges: Edges;
  corners: Vector3[];
}

/** All links of one shape. */
export class Links {
  readonly group = new Group();
  readonly tree: Tree;
  private readonly drawn: Drawn[] = [];
  private readonly legOf: Map<string, string>;

  constructor(
    readonly shape: Shape,
    legs: Record<string, string[]>,
    screen: Vector2,
  ) {
    this.tree = new Tree(shape);
    this.legOf = legLinks(shape, legs);
    const byLink = new Map<string, Solid[]>();
    for (const solid of shape.solids) {
      const list = byLink.get(solid.link);
      if (list) list.push(solid);
      else byLink.set(solid.link, [solid]);
    }
    for (const [link, solids] of byLink) this.add(link, solids, screen);
  }

  /** Leg that a link belongs to; empty: none. */
  leg(link: string): string {
    return this.legOf.get(link) ?? "";
  }

  /** Set all poses. */
  place(body: Matrix4, q: ArrayLike<number>): void {
    this.tree.place(body, q);
    for (const each of this.drawn) {
      const pose = this.tree.links.get(each.link);
      if (!pose) continue;
      for (const mesh of [each.faces, each.edges.mesh]) {
        mesh.matrix.copy(pose);
        mesh.matrixWorldNeedsUpdate = true;
      }
    }
  }

  /** Colours and widths: lifted legs thin and grey, lit links on tinted faces in heavy lines. */
  style(palette: Palette, ratio: number, lifted: ReadonlySet<string>, lit: ReadonlySet<string>): void {
    for (const { link, leg, faces, edges } of this.drawn) {
      const isLit = lit.has(link);
      const up = lifted.has(leg);
      faces.material.color.copy(isLit ? palette.tint : palette.sheet);
      const colour: Color = isLit ? palette.lit : up ? palette.line : palette.ink;
      const outer = isLit ? 3 : up ? 1 : 2;
      edges.style(outer * ratio * palette.weight, 0.75 * ratio * palette.weight, colour);
    }
  }

  /** Outlines alone, thin and grey: how it was before. */
  ghost(palette: Palette, ratio: number): void {
    for (const { faces, edges } of this.drawn) {
      faces.visible = false;
      edges.mesh.renderOrder = 1;
      edges.style(ratio * palette.weight, 0, palette.line, 8 * ratio, 3 * ratio);
    }
  }

  /** Corners of all solids in the ground frame. */
  corners(): Vector3[] {
    return this.drawn.flatMap(({ link, corners }) => {
      const pose = this.tree.links.get(link);
      return pose ? corners.map((corner) => corner.clone().applyMatrix4(pose)) : [];
    });
  }

  /** Middle of a link's solids in the ground frame. */
  middle(link: string): Vector3 | null {
    const pose = this.tree.links.get(link);
    if (!pose) return null;
    const one = this.drawn.find((each) => each.link === link);
    const middle = new Vector3();
    if (one && one.corners.length > 0) {
      for (const corner of one.corners) middle.add(corner);
      middle.divideScalar(one.corners.length);
    }
    return middle.applyMatrix4(pose);
  }

  /** Faces, for finding what a pointer touches. */
  get touchable(): { mesh: Mesh; link: string }[] {
    return this.drawn.map(({ faces, link }) => ({ mesh: faces, link }));
  }

  /** Give all buffers back. */
  dispose(): void {
    for (const { faces, edges } of this.drawn) {
      faces.geometry.dispose();
      faces.material.dispose();
      edges.dispose();
    }
    this.group.clear();
  }

  private add(link: string, solids: readonly Solid[], screen: Vector2): void {
    const mesh = linkMesh(solids);
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(mesh.triangles, 3));
    const material = new MeshBasicMaterial({
      polygonOffset: true,
      polygonOffsetFactor: 1,
      polygonOffsetUnits: 1,
    });
    const faces = new Mesh(geometry, material);
    faces.matrixAutoUpdate = false;
    faces.frustumCulled = false;
    const edges = new Edges(mesh.edges, screen);
    this.group.add(faces, edges.mesh);
    const corners: Vector3[] = [];
    for (let i = 0; i < mesh.edges.length; i += 12) {
      corners.push(new Vector3().fromArray(mesh.edges, i));
    }
    this.drawn.push({ link, leg: this.leg(link), faces, edges, corners });
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
