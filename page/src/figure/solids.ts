// Shapes of links as flat faces and the edges between them.
import { Matrix4, Vector3 } from "three";
import type { Solid } from "../wire";
import { fromRows } from "./matrix";

/** A closed shape: corners, and faces seen anticlockwise from outside. */
interface Hull {
  corners: Vector3[];
  faces: number[][];
}

/** Faces and edges of a link, in its frame. */
export interface LinkMesh {
  /** Three corners of three numbers a triangle. */
  triangles: Float32Array;
  /** Twelve numbers an edge: both ends, the normals on both sides. */
  edges: Float32Array;
}

const ROUND = 20;

/** All solids of one link as one mesh. */
export function linkMesh(solids: readonly Solid[]): LinkMesh {
  const triangles: number[] = [];
  const edges: number[] = [];
  for (const solid of solids) {
    const hull = hullOf(solid);
    if (hull === null) continue;
    addFaces(hull, triangles);
    addEdges(hull, edges);
  }
  return { triangles: new Float32Array(triangles), edges: new Float32Array(edges) };
}

function hullOf(solid: Solid): Hull | null {
  const place = fromRows(solid.placement);
  const [a = 0, b = 0, c = 0] = solid.size;
  switch (solid.kind) {
    case "box":
      return placed(box(a / 2, b / 2, c / 2), place);
    case "cylinder":
      return placed(prism(a, b / 2), place);
    case "sphere":
      return placed(ball(a), place);
    case "hull":
      return {
        corners: solid.corners.map((corner) => new Vector3(...corner)),
        faces: solid.faces,
      };
  }
}

function placed(hull: Hull, place: Matrix4): Hull {
  for (const corner of hull.corners) corner.applyMatrix4(place);
  return hull;
}

function box(x: number, y: number, z: number): Hull {
  const corners = [-1, 1].flatMap((k) =>
    [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([i = 0, j = 0]) => new Vector3(i * x, j * y, k * z)),
  );
  const sides = [0, 1, 2, 3].map((i) => [i, (i + 1) % 4, 4 + ((i + 1) % 4), 4 + i]);
  return { corners, faces: [[3, 2, 1, 0], [4, 5, 6, 7], ...sides] };
}

function prism(radius: number, half: number): Hull {
  const corners: Vector3[] = [];
  for (const z of [-half, half]) {
    for (let i = 0; i < ROUND; i += 1) {
      const angle = (2 * Math.PI * i) / ROUND;
      corners.push(new Vector3(radius * Math.cos(angle), radius * Math.sin(angle), z));
    }
  }
  const ring = Array.from({ length: ROUND }, (_, i) => i);
  const sides = ring.map((i) => [i, (i + 1) % ROUND, ROUND + ((i + 1) % ROUND), ROUND + i]);
  return { corners, faces: [[...ring].reverse(), ring.map((i) => ROUND + i), ...sides] };
}

function ball(radius: number): Hull {
  const rows = ROUND / 2;
  const corners: Vector3[] = [new Vector3(0, 0, -radius)];
  for (let k = 1; k < rows; k += 1) {
    const up = -Math.PI / 2 + (Math.PI * k) / rows;
    for (let i = 0; i < ROUND; i += 1) {
      const angle = (2 * Math.PI * i) / ROUND;
      const out = radius * Math.cos(up);
      corners.push(new Vector3(out * Math.cos(angle), out * Math.sin(angle), radius * Math.sin(up)));
    }
  }
  const top = corners.push(new Vector3(0, 0, radius)) - 1;
  const at = (k: number, i: number): number => 1 + (k - 1) * ROUND + (i % ROUND);
  const faces: number[][] = [];
  for (let i = 0; i < ROUND; i += 1) {
    faces.push([0, at(1, i + 1), at(1, i)], [top, at(rows - 1, i), at(rows - 1, i + 1)]);
    for (let k = 1; k < rows - 1; k += 1) {
      faces.push([at(k, i), at(k, i + 1), at(k + 1, i + 1), at(k + 1, i)]);
    }
  }
  return { corners, faces };
}

function addFaces(hull: Hull, triangles: number[]): void {
  for (const face of hull.faces) {
    for (let i = 2; i < face.length; i += 1) {
      for (const corner of [face[0], face[i - 1], face[i]]) {
        const at = hull.corners[corner ?? 0];
        if (at) triangles.push(at.x, at.y, at.z);
      }
    }
  }
}

function normal(hull: Hull, face: readonly number[]): Vector3 {
  // Newell's sum over the outline; holds for any flat polygon.
  const sum = new Vector3();
  face.forEach((corner, i) => {
    const a = hull.corners[corner];
    const b = hull.corners[face[(i + 1) % face.length] ?? 0];
    if (a && b) sum.add(new Vector3().crossVectors(a, b));
  });
  return sum.normalize();
}

function addEdges(hull: Hull, edges: number[]): void {
  const open = new Map<string, { a: Vector3; b: Vector3; n: Vector3 }>();
  const key = (p: Vector3, q: Vector3): string => [p, q].map(name).sort().join("|");
  const name = (p: Vector3): string => [p.x, p.y, p.z].map((v) => Math.round(v * 1e6)).join(",");
  const put = (a: Vector3, b: Vector3, n: Vector3, m: Vector3): void => {
    edges.push(a.x, a.y, a.z, b.x, b.y, b.z, n.x, n.y, n.z, m.x, m.y, m.z);
  };
  for (const face of hull.faces) {
    const n = normal(hull, face);
    face.forEach((corner, i) => {
      const a = hull.corners[corner];
      const b = hull.corners[face[(i + 1) % face.length] ?? 0];
      if (!a || !b || a.distanceToSquared(b) < 1e-14) return;
      const id = key(a, b);
      const other = open.get(id);
      if (other === undefined) {
        open.set(id, { a, b, n });
      } else {
        put(a, b, n, other.n);
        open.delete(id);
      }
    });
  }
  for (const { a, b, n } of open.values()) put(a, b, n, n.clone().negate());
}
