// Where solids pass through each other: the curves that two fronts share, in the picture.
import type { Ball, Hull } from "./solids";

/** A solid as it is seen. */
export interface Seen {
  body: Ball | Hull;
  /** Corners in the picture: x, y [px], depth [m]; of a ball its middle. */
  seen: Float64Array;
  /** Whether each face looks at the eye. */
  front: Uint8Array;
  /** Of each such face: its depth is base + dx·x + dy·y [m; px]. */
  planes: Float64Array;
  /** What holds it: least and greatest x, y [px] and depth [m]. */
  box: Float64Array;
}

/** A piece of a curve: ends x, y [px], depth [m]. */
export type Put = (ax: number, ay: number, az: number, bx: number, by: number, bz: number) => void;

const LEVEL = 1e-3; // slope between faces that lie in one plane: no line is there to be drawn
const AROUND = 48; // pieces of a circle

/** Whether two solids may meet at all. */
export function meet({ box: a }: Seen, { box: b }: Seen): boolean {
  for (let k = 0; k < 3; k += 1) {
    if (a[k]! > b[3 + k]! || b[k]! > a[3 + k]!) return false;
  }
  return true;
}

/** What holds a solid, in the picture; `scale`: pixels a metre. */
export function hold({ body, seen, box }: Seen, scale: number): void {
  const around = body.kind === "ball" ? body.radius : 0;
  for (let k = 0; k < 3; k += 1) {
    let low = Infinity, high = -Infinity;
    for (let i = k; i < seen.length; i += 3) {
      low = Math.min(low, seen[i]!);
      high = Math.max(high, seen[i]!);
    }
    box[k] = low - around * (k < 2 ? scale : 1);
    box[3 + k] = high + around * (k < 2 ? scale : 1);
  }
}

/** The curves in which the fronts of two solids cut each other, piece by piece. */
export function crossings(a: Seen, b: Seen, scale: number, put: Put): void {
  if (a.body.kind === "hull" && b.body.kind === "hull") hulls(a, a.body, b, b.body, scale, put);
  else if (a.body.kind === "ball" && b.body.kind === "ball") balls(a, a.body, b, b.body, scale, put);
  else if (a.body.kind === "ball" && b.body.kind === "hull") ballInHull(a, a.body, b, b.body, scale, put);
  else if (a.body.kind === "hull" && b.body.kind === "ball") ballInHull(b, b.body, a, a.body, scale, put);
}

function hulls(a: Seen, one: Hull, b: Seen, two: Hull, scale: number, put: Put): void {
  const others: number[] = [];
  for (let g = 0; g < two.faces.length; g += 1) {
    if (b.front[g] === 1 && touches(b.seen, two.faces[g]!, a.box)) others.push(g);
  }
  if (others.length === 0) return;
  for (let f = 0; f < one.faces.length; f += 1) {
    if (a.front[f] === 0 || !touches(a.seen, one.faces[f]!, b.box)) continue;
    const base = a.planes[3 * f]!, dx = a.planes[3 * f + 1]!, dy = a.planes[3 * f + 2]!;
    for (const g of others) {
      const ux = dx - b.planes[3 * g + 1]!, uy = dy - b.planes[3 * g + 2]!, steep = Math.hypot(ux, uy);
      if (steep * scale < LEVEL) continue;
      // Equal depth is a straight line of the picture; both outlines cut it to length.
      const far = (b.planes[3 * g]! - base) / (steep * steep);
      const x = far * ux, y = far * uy, wx = -uy / steep, wy = ux / steep;
      const span = clip(b.seen, two.faces[g]!, x, y, wx, wy, clip(a.seen, one.faces[f]!, x, y, wx, wy, [-1e6, 1e6]));
      if (span === null) continue;
      const ax = x + wx * span[0], ay = y + wy * span[0], bx = x + wx * span[1], by = y + wy * span[1];
      put(ax, ay, base + dx * ax + dy * ay, bx, by, base + dx * bx + dy * by);
    }
  }
}

function ballInHull(a: Seen, ball: Ball, b: Seen, hull: Hull, scale: number, put: Put): void {
  const [x = 0, y = 0, z = 0] = a.seen, r = ball.radius;
  for (let f = 0; f < hull.faces.length; f += 1) {
    if (b.front[f] === 0 || !touches(b.seen, hull.faces[f]!, a.box)) continue;
    const base = b.planes[3 * f]!, dx = b.planes[3 * f + 1]!, dy = b.planes[3 * f + 2]!;
    const long = Math.hypot(1, dx * scale, dy * scale);
    const out = (z - base - dx * x - dy * y) / long; // of the ball's middle from the plane [m]
    if (Math.abs(out) >= r) continue;
    const normal = [-dx * scale / long, -dy * scale / long, 1 / long] as const;
    circle([x / scale, y / scale, z], normal, -out, Math.sqrt(r * r - out * out), scale, (px, py, pz, qx, qy, qz) => {
      if (pz < z || qz < z) return; // the ball's back
      const span = clip(b.seen, hull.faces[f]!, px, py, qx - px, qy - py, [0, 1]);
      if (span === null) return;
      const [s, t] = span;
      put(px + (qx - px) * s, py + (qy - py) * s, pz + (qz - pz) * s, px + (qx - px) * t, py + (qy - py) * t, pz + (qz - pz) * t);
    });
  }
}

function balls(a: Seen, one: Ball, b: Seen, two: Ball, scale: number, put: Put): void {
  const [ax = 0, ay = 0, az = 0] = a.seen, [bx = 0, by = 0, bz = 0] = b.seen;
  const way = [(bx - ax) / scale, (by - ay) / scale, bz - az] as const;
  const far = Math.hypot(...way), r = one.radius;
  if (far >= r + two.radius || far <= Math.abs(r - two.radius)) return;
  const along = (far * far + r * r - two.radius ** 2) / (2 * far);
  const normal = [way[0] / far, way[1] / far, way[2] / far] as const;
  circle([ax / scale, ay / scale, az], normal, along, Math.sqrt(r * r - along * along), scale, (px, py, pz, qx, qy, qz) => {
    if (Math.min(pz, qz) >= Math.max(az, bz)) put(px, py, pz, qx, qy, qz);
  });
}

type Point = readonly [number, number, number];

/** A circle in space about a shifted middle [m], as chords in the picture. */
function circle([x, y, z]: Point, [nx, ny, nz]: Point, shift: number, radius: number, scale: number, put: Put): void {
  // Two ways across the normal: from the axis that it is least along.
  const flat = Math.abs(nz) < 0.9;
  const long = flat ? Math.hypot(nx, ny) : Math.hypot(ny, nz);
  const [ex, ey, ez] = flat ? [-ny / long, nx / long, 0] : [0, -nz / long, ny / long];
  const [gx, gy, gz] = [ny * ez - nz * ey, nz * ex - nx * ez, nx * ey - ny * ex];
  let px = 0, py = 0, pz = 0;
  for (let i = 0; i <= AROUND; i += 1) {
    const c = radius * Math.cos((2 * Math.PI * i) / AROUND), s = radius * Math.sin((2 * Math.PI * i) / AROUND);
    const qx = (x + nx * shift + ex * c + gx * s) * scale;
    const qy = (y + ny * shift + ey * c + gy * s) * scale;
    const qz = z + nz * shift + ez * c + gz * s;
    if (i > 0) put(px, py, pz, qx, qy, qz);
    [px, py, pz] = [qx, qy, qz];
  }
}

/** Whether a face may reach into a box. */
function touches(seen: Float64Array, face: readonly number[], box: Float64Array): boolean {
  for (let k = 0; k < 3; k += 1) {
    let low = Infinity, high = -Infinity;
    for (const i of face) {
      const at = seen[3 * i + k]!;
      if (at < low) low = at;
      if (at > high) high = at;
    }
    if (low > box[3 + k]! || high < box[k]!) return false;
  }
  return true;
}

/** Part of a line x + t·wx, y + t·wy that lies in a front face; null: none. */
function clip(
  seen: Float64Array, face: readonly number[], x: number, y: number, wx: number, wy: number,
  span: readonly [number, number] | null,
): readonly [number, number] | null {
  if (span === null) return null;
  let [from, to] = span;
  for (let k = 0; k < face.length; k += 1) {
    const a = 3 * face[k]!, b = 3 * face[k + 1 === face.length ? 0 : k + 1]!;
    const sx = seen[b]! - seen[a]!, sy = seen[b + 1]! - seen[a + 1]!;
    // Fronts go round clockwise where y is down: inside is where this is not positive.
    const at = sx * (y - seen[a + 1]!) - sy * (x - seen[a]!), by = sx * wy - sy * wx;
    if (Math.abs(by) < 1e-12) {
      if (at > 0) return null;
    } else if (by > 0) to = Math.min(to, -at / by);
    else from = Math.max(from, -at / by);
    if (from >= to) return null;
  }
  return [from, to];
}
