// The walked ground in the figure: hairs along a grid, as high as the ground is.
import type { Pen, Strokes } from "../figure/strokes";
import type { LandGrid } from "./story";

const EVERY = 0.1; // m between lines
const ALONG = 0.02; // m between their corners
const HALF = 0.6; // m to each side

/** Height of the ground [m]; level beyond its border. */
export function heightAt(land: LandGrid | null, x: number, y: number): number {
  if (land === null) return 0;
  const row = Math.min(Math.max((x - land.origin[0]) / land.spacing, 0), land.rows - 1);
  const column = Math.min(Math.max((y - land.origin[1]) / land.spacing, 0), land.columns - 1);
  return land.heights[Math.round(row) * land.columns + Math.round(column)] ?? 0;
}

/** Draw the ground around a place (x, y, heading), as one sees it who stands there. */
export function drawLand(strokes: Strokes, pen: Pen, land: LandGrid | null, at: readonly [number, number, number]): void {
  const [x0, y0, heading] = at;
  const [c, s] = [Math.cos(heading), Math.sin(heading)];
  const local = (x: number, y: number): [number, number, number] => [
    c * (x - x0) + s * (y - y0), -s * (x - x0) + c * (y - y0), heightAt(land, x, y),
  ];
  const flat = land === null;
  const reach = heading === 0 ? HALF : HALF * 1.3;
  const lines = (centre: number): number[] => {
    const first = Math.ceil((centre - reach) / EVERY - 1e-9) * EVERY;
    return Array.from({ length: Math.floor((2 * reach) / EVERY + 1e-9) + 1 }, (_, i) => first + i * EVERY);
  };
  const run = (place: (along: number) => readonly [number, number], centre: number): void => {
    const corners = flat ? 1 : Math.round((2 * reach) / ALONG);
    let last = local(...(place(centre - reach) as [number, number]));
    for (let i = 1; i <= corners; i += 1) {
      const next = local(...(place(centre - reach + (2 * reach * i) / corners) as [number, number]));
      strokes.line(last, next, pen);
      last = next;
    }
  };
  for (const x of lines(x0)) run((y) => [x, y], y0);
  for (const y of lines(y0)) run((x) => [x, y], x0);
}
