// What one leg reaches, in its own vertical plane, and the way its foot takes in there.
import { millimetres, number } from "../numbers";
import { Plot, ticks } from "../plot";
import type { Moved } from "../plot";
import { instantOf } from "../figure/pose";
import type { Kept, Store } from "../store";
import { svg } from "../svg";
import type { Reach } from "../wire";

const WIDTH = 250;
const HEIGHT = 150;

type Point = [number, number];

/** The plot of one leg; null while nothing is known of it. */
export function reachPlot(store: Store, leg: string, pulled: () => Float32Array | null): Moved | null {
  const { now, before } = store.reach;
  const outline = now && pairs(now, leg);
  const cycle = store.cycle.now;
  if (!now || !outline || !cycle) return null;
  const old = before ? pairs(before, leg) ?? [] : [];
  const hip = now.header.hips[leg] ?? [0, 0, 0];
  const i = cycle.header.legs.indexOf(leg);
  const path = way(cycle.arrays["feet"], i, cycle.header.legs.length, hip);
  const { height } = cycle.header;
  const all: Point[] = [...outline, ...old, ...path, [0, 0]];
  const xs = all.map((p) => p[0]), ys = all.map((p) => p[1]);
  const box = { x: [Math.min(...xs), Math.max(...xs)], y: [Math.min(...ys, -height * 1000), Math.max(...ys)] };
  const frame = fitted(box.x as Point, box.y as Point);
  const short = store.welcome?.short[leg] ?? leg;
  const plot = new Plot(frame, `Reach of leg ${short} in its plane; its foot's way lies ${inside(path, outline) ? "inside" : "partly outside"}`, "reach");
  plot.text(44, 13, `reach of ${short}, mm`, "title");
  plot.hatch(frame.y[0], -height * 1000);
  plot.root.append(svg("path", { class: "ground", d: `M${plot.x(frame.x[0])} ${plot.y(-height * 1000)}H${plot.x(frame.x[1])}` }));
  if (old.length > 2) plot.line(old, "before", true);
  plot.line(outline, "outline", true);
  plot.line(path, "way", true);
  plot.axes(ticks(...frame.x, 3), ticks(...frame.y, 4), (v) => number(v));
  const dot = svg("circle", { class: "dot", r: 4 });
  plot.root.append(dot);
  plot.root.append(svg("circle", { class: "hip", cx: plot.x(0), cy: plot.y(hip[2] * 1000), r: 3 }));
  plot.text(WIDTH - 8, 13, `${millimetres(Math.max(...outline.map((p) => p[0])) / 1000)} out`, "value", "end");
  return {
    root: plot.root,
    move(phase) {
      const feet = pulled() ?? instantOf(cycle, phase).feet;
      if (!feet) return;
      const [x, y] = flat([feet[3 * i] ?? 0, feet[3 * i + 1] ?? 0, feet[3 * i + 2] ?? 0], hip);
      dot.setAttribute("transform", `translate(${plot.x(x).toFixed(1)} ${plot.y(y).toFixed(1)})`);
    },
  };
}

function pairs(reach: Kept<Reach>, leg: string): Point[] | null {
  const flatArray = reach.arrays[leg];
  if (!flatArray || flatArray.length < 6) return null;
  return Array.from({ length: flatArray.length / 2 }, (_, k): Point => [
    (flatArray[2 * k] ?? 0) * 1000, (flatArray[2 * k + 1] ?? 0) * 1000,
  ]);
}

function way(feet: Float32Array | undefined, leg: number, legs: number, hip: readonly number[]): Point[] {
  if (!feet || leg < 0) return [];
  return Array.from({ length: feet.length / legs / 3 }, (_, t) => {
    const at = (t * legs + leg) * 3;
    return flat([feet[at] ?? 0, feet[at + 1] ?? 0, feet[at + 2] ?? 0], hip);
  });
}

/** A foot point as distance from the hip axis and height over the body frame [mm]. */
function flat(point: readonly number[], hip: readonly number[]): Point {
  const away = Math.hypot((point[0] ?? 0) - (hip[0] ?? 0), (point[1] ?? 0) - (hip[1] ?? 0));
  return [away * 1000, (point[2] ?? 0) * 1000];
}

/** Same scale on both axes. */
function fitted(x: Point, y: Point): { width: number; height: number; pad: [number, number, number, number]; x: Point; y: Point } {
  const pad: [number, number, number, number] = [22, 14, 20, 44];
  const [wide, high] = [WIDTH - pad[1] - pad[3], HEIGHT - pad[0] - pad[2]];
  const per = Math.max((x[1] - x[0]) / wide, (y[1] - y[0]) / high) * 1.05;
  const [mx, my] = [(x[0] + x[1]) / 2, (y[0] + y[1]) / 2];
  return {
    width: WIDTH, height: HEIGHT, pad,
    x: [mx - (per * wide) / 2, mx + (per * wide) / 2], y: [my - (per * high) / 2, my + (per * high) / 2],
  };
}

function inside(path: readonly Point[], outline: readonly Point[]): boolean {
  return path.every(([x, y]) => {
    let odd = false;
    outline.forEach(([ax, ay], k) => {
      const [bx, by] = outline[(k + 1) % outline.length] ?? [ax, ay];
      if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) odd = !odd;
    });
    return odd;
  });
}
