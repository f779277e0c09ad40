// Solids of links as flat faces and the edges between them.
import type { Solid } from "../wire";
import { Pose, Vec } from "./space";

/** A ball, drawn as the circle that it is. */
export interface Ball {
  kind: "ball";
  middle: Vec;
  radius: number;
}

/** A closed shape of flat convex faces, in its link's frame. */
export interface Hull {
  kind: "hull";
  corners: Vec[];
  /** Corners of each face, anticlockwise seen from outside. */
  faces: readonly (readonly number[])[];
  /** Which way each face looks. */
  normals: Vec[];
  edges: Edge[];
}

/** An edge: its ends, the faces on both sides (−1: none), and whether they meet at an angle. */
export interface Edge {
  a: number;
  b: number;
  one: number;
  two: number;
  sharp: boolean;
}

type Faces = readonly (readonly number[])[];

const ROUND = 24; // flats of a cylinder, of a wide one more
const WIDE = 80;
const FLAT_M = 0.012; // m
const FLAT = 0.9; // cosine of the angle that is drawn

/** A solid as it is drawn. */
export function bodyOf(solid: Solid): Ball | Hull {
  const place = Pose.of(solid.placement);
  const [a = 0, b = 0, c = 0] = solid.size;
  switch (solid.kind) {
    case "sphere":
      return { kind: "ball", middle: place.origin, radius: a };
    case "box":
      return hull(...box(a / 2, b / 2, c / 2), place);
    case "cylinder":
      return hull(...prism(a, b / 2), place);
    case "hull":
      return hull(solid.corners.map((corner) => Vec.of(corner)), solid.faces, new Pose());
  }
}

/** Points that hold a solid. */
export function extent(body: Ball | Hull): Vec[] {
  if (body.kind === "hull") return body.corners;
  return [1, -1].flatMap((sign) => {
    const r = sign * body.radius;
    return [new Vec(r), new Vec(0, r), new Vec(0, 0, r)].map((out) => body.middle.plus(out));
  });
}

function hull(points: readonly Vec[], faces: Faces, place: Pose): Hull {
  const corners = points.map((point) => place.point(point));
  const normals = faces.map((face) => normal(corners, face));
  return { kind: "hull", corners, faces, normals, edges: edges(corners, faces, normals) };
}

function box(x: number, y: number, z: number): [Vec[], Faces] {
  const corners = [-1, 1].flatMap((k) =>
    [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([i = 0, j = 0]) => new Vec(i * x, j * y, k * z)),
  );
  const sides = [0, 1, 2, 3].map((i) => [i, (i + 1) % 4, 4 + ((i + 1) % 4), 4 + i]);
  return [corners, [[3, 2, 1, 0], [4, 5, 6, 7], ...sides]];
}

function prism(radius: number, half: number): [Vec[], Faces] {
  const round = Math.min(WIDE, Math.max(ROUND, 4 * Math.round((Math.PI * radius) / (2 * FLAT_M))));
  const ring = Array.from({ length: round }, (_, i) => i);
  const corners = [-half, half].flatMap((z) => ring.map((i) => {
    const angle = (2 * Math.PI * i) / round;
    return new Vec(radius * Math.cos(angle), radius * Math.sin(angle), z);
  }));
  const sides = ring.map((i) => [i, (i + 1) % round, round + ((i + 1) % round), round + i]);
  return [corners, [[...ring].reverse(), ring.map((i) => round + i), ...sides]];
}

/** Newell's sum over the outline; holds for any flat polygon. */
function normal(corners: readonly Vec[], face: readonly number[]): Vec {
  let sum = new Vec();
  face.forEach((corner, i) => {
    const a = corners[corner], b = corners[face[(i + 1) % face.length] ?? 0];
    if (a && b) sum = sum.plus(a.cross(b));
  });
  return sum.unit();
}

function edges(corners: readonly Vec[], faces: Faces, normals: readonly Vec[]): Edge[] {
  const found: Edge[] = [];
  const open = new Map<string, Edge>();
  const name = (p: Vec): string => p.list().map((v) => Math.round(v * 1e6)).join(",");
  faces.forEach((face, one) => face.forEach((a, i) => {
    const b = face[(i + 1) % face.length] ?? 0;
    const [p, q] = [corners[a], corners[b]];
    if (!p || !q || p.minus(q).length < 1e-7) return;
    const id = [name(p), name(q)].sort().join("|");
    const other = open.get(id);
    if (other === undefined) {
      open.set(id, { a, b, one, two: -1, sharp: true });
      return;
    }
    open.delete(id);
    const [n, m] = [normals[one], normals[other.one]];
    found.push({ ...other, two: one, sharp: n !== undefined && m !== undefined && n.dot(m) < FLAT });
  }));
  return [...found, ...open.values()];
}
