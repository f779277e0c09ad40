// What lies on the ground: grid, support polygon with its wanted margin, the feet's paths.
import type { Palette } from "../look";
import type { Vec } from "./space";
import type { Pen, Strokes } from "./strokes";

type Point = readonly [number, number];

const GRID = 0.1; // m
const HATCH_PX = 6;

/** Grid of hairs around a place. */
export function drawGrid(strokes: Strokes, centre: Vec, half: number, pen: Pen): void {
  const cells = Math.ceil(half / GRID);
  const x0 = Math.round(centre.x / GRID) * GRID;
  const y0 = Math.round(centre.y / GRID) * GRID;
  const reach = cells * GRID;
  for (let i = -cells; i <= cells; i += 1) {
    strokes.line([x0 + i * GRID, y0 - reach, 0], [x0 + i * GRID, y0 + reach, 0], pen);
    strokes.line([x0 - reach, y0 + i * GRID, 0], [x0 + reach, y0 + i * GRID, 0], pen);
  }
}

/** Part of a convex polygon (counter-clockwise) that keeps a distance from every edge. */
export function inset(polygon: readonly Point[], distance: number): Point[] {
  let kept: Point[] = [...polygon];
  polygon.forEach((a, i) => {
    const b = polygon[(i + 1) % polygon.length] ?? a;
    const [ex, ey] = [b[0] - a[0], b[1] - a[1]];
    const length = Math.hypot(ex, ey) || 1;
    const depth = (p: Point): number =>
      (ex * (p[1] - a[1]) - ey * (p[0] - a[0])) / length - distance;
    const next: Point[] = [];
    kept.forEach((p, k) => {
      const q = kept[(k + 1) % kept.length] ?? p;
      const [dp, dq] = [depth(p), depth(q)];
      if (dp >= 0) next.push(p);
      if (dp >= 0 !== dq >= 0) {
        const t = dp / (dp - dq);
        next.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
      }
    });
    kept = next;
  });
  return kept;
}

/** Parts of the line x − y = c that lie inside a convex polygon, as parameters along (1, 1). */
function chord(polygon: readonly Point[], c: number): readonly [number, number] | null {
  const found: number[] = [];
  polygon.forEach((a, i) => {
    const b = polygon[(i + 1) % polygon.length] ?? a;
    const [da, db] = [a[0] - a[1] - c, b[0] - b[1] - c];
    if (da >= 0 === db >= 0) return;
    const t = da / (da - db);
    found.push(a[0] + t * (b[0] - a[0]));
  });
  if (found.length < 2) return null;
  return [Math.min(...found), Math.max(...found)];
}

/** Hatch what lies in the outer polygon and not in the inner one. */
function hatchBand(
  strokes: Strokes, outer: readonly Point[], inner: readonly Point[], gap: number, pen: Pen,
): void {
  const cs = outer.map(([x, y]) => x - y);
  const last = Math.max(...cs);
  for (let c = Math.ceil(Math.min(...cs) / gap) * gap; c < last; c += gap) {
    const whole = chord(outer, c);
    if (whole === null) continue;
    const hole = inner.length > 2 ? chord(inner, c) : null;
    const spans = hole === null ? [whole] : [[whole[0], hole[0]], [hole[1], whole[1]]];
    for (const [x0 = 0, x1 = 0] of spans) {
      if (x1 - x0 > 1e-5) strokes.line([x0, x0 - c, 0], [x1, x1 - c, 0], pen);
    }
  }
}

/** The support polygon; the edge that the centre of mass is nearest to is the critical one. */
export function drawSupport(
  strokes: Strokes, feet: readonly Vec[], com: Vec | null, wanted: number,
  scale: number, palette: Palette,
): void {
  if (feet.length < 2) return;
  const polygon = feet.map((foot): Point => [foot.x, foot.y]);
  const w = palette.weight;
  if (polygon.length > 2 && wanted > 0) {
    const inner = inset(polygon, wanted);
    const gap = (HATCH_PX * Math.SQRT2) / scale;
    hatchBand(strokes, polygon, inner, gap, { width: 0.75 * w, colour: palette.line });
    inner.forEach(([x, y], i) => {
      const [u, v] = inner[(i + 1) % inner.length] ?? [x, y];
      strokes.line([x, y, 0], [u, v, 0], { width: 0.75 * w, colour: palette.line });
    });
  }
  const critical = com === null ? -1 : nearestEdge(polygon, [com.x, com.y], wanted);
  polygon.forEach(([x, y], i) => {
    const [u, v] = polygon[(i + 1) % polygon.length] ?? [x, y];
    const pen: Pen = i === critical ? { width: 3 * w, colour: palette.red } : { width: w, colour: palette.ink };
    strokes.line([x, y, 0], [u, v, 0], pen);
  });
}

/** Index of the edge that is closer to a point than wanted, or −1. */
function nearestEdge(polygon: readonly Point[], [px, py]: Point, wanted: number): number {
  let best = wanted;
  let found = -1;
  polygon.forEach(([x, y], i) => {
    const [u, v] = polygon[(i + 1) % polygon.length] ?? [x, y];
    const length = Math.hypot(u - x, v - y) || 1;
    const depth = ((u - x) * (py - y) - (v - y) * (px - x)) / length;
    if (depth < best) {
      best = depth;
      found = i;
    }
  });
  return found;
}

/** A path as a dashed line, its dashes running through. */
export function drawPath(strokes: Strokes, points: readonly Vec[], pen: Pen, scale: number, closed: boolean): void {
  let run = 0;
  const count = closed ? points.length : points.length - 1;
  for (let i = 0; i < count; i += 1) {
    const a = points[i], b = points[(i + 1) % points.length];
    if (!a || !b) continue;
    strokes.line(a.list(), b.list(), pen, run);
    run += a.minus(b).length * scale;
  }
}
