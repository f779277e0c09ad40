// Small plots made by hand: left and bottom axes, what is not allowed hatched, lines named directly.
import { svg } from "./svg";

/** Box of the data and of the picture. */
export interface Frame {
  width: number;
  height: number;
  /** Room around the axes: top, right, bottom, left [px]. */
  pad: readonly [number, number, number, number];
  x: readonly [number, number];
  y: readonly [number, number];
}

/** A plot whose cursor moves without the rest being drawn anew. */
export interface Moved {
  root: SVGSVGElement;
  /** Move the cursor to a phase, 0 to 1. */
  move(phase: number): void;
}

/** Places data in a picture. */
export class Plot {
  readonly root: SVGSVGElement;

  constructor(readonly frame: Frame, label: string, name: string) {
    const { width, height } = frame;
    this.root = svg("svg", { class: `plot ${name}`, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": label });
  }

  /** Picture's x of a value. */
  x(value: number): number {
    const { width, pad, x } = this.frame;
    return pad[3] + ((value - x[0]) / (x[1] - x[0] || 1)) * (width - pad[1] - pad[3]);
  }

  /** Picture's y of a value. */
  y(value: number): number {
    const { height, pad, y } = this.frame;
    return height - pad[2] - ((value - y[0]) / (y[1] - y[0] || 1)) * (height - pad[0] - pad[2]);
  }

  /** A line through points; breaks where a number is missing. */
  line(points: Iterable<readonly [number, number]>, name: string, close = false): SVGPathElement {
    let d = "";
    let down = false;
    for (const [px, py] of points) {
      if (!Number.isFinite(px) || !Number.isFinite(py)) {
        down = false;
        continue;
      }
      d += `${down ? "L" : "M"}${this.x(px).toFixed(1)} ${this.y(py).toFixed(1)}`;
      down = true;
    }
    const path = svg("path", { class: name, d: close && d !== "" ? `${d}Z` : d });
    this.root.append(path);
    return path;
  }

  /** Lettering at a place of the picture. */
  text(x: number, y: number, text: string, name = "", anchor: "start" | "middle" | "end" = "start"): void {
    this.root.append(svg("text", { x, y, class: name, "text-anchor": anchor }, text));
  }

  /** Axes at left and bottom with ticks inside. */
  axes(xs: readonly number[], ys: readonly number[], show: (value: number) => string = String, showX = show): void {
    const { width, height, pad } = this.frame;
    const [left, bottom] = [pad[3], height - pad[2]];
    let d = `M${left} ${pad[0]}V${bottom}H${width - pad[1]}`;
    for (const each of ys) {
      d += `M${left} ${this.y(each)}h6`;
      this.text(left - 5, this.y(each) + 4, show(each), "tick", "end");
    }
    for (const each of xs) {
      d += `M${this.x(each)} ${bottom}v-6`;
      this.text(this.x(each), bottom + 15, showX(each), "tick", "middle");
    }
    this.root.append(svg("path", { class: "axis", d }));
  }

  /** Hatch from one height to another over the whole width, as lines. */
  hatch(from: number, to: number): void {
    const { width, pad } = this.frame;
    const [left, right] = [pad[3], width - pad[1]];
    const [top, bottom] = [Math.min(this.y(from), this.y(to)), Math.max(this.y(from), this.y(to))];
    const high = bottom - top;
    let d = "";
    for (let x = left - high; x < right; x += 6 * Math.SQRT2) {
      const a = Math.max(left, x), b = Math.min(right, x + high);
      if (b > a) d += `M${a.toFixed(1)} ${(bottom - (a - x)).toFixed(1)}L${b.toFixed(1)} ${(bottom - (b - x)).toFixed(1)}`;
    }
    this.root.append(svg("path", { class: "hatch", d }));
  }
}

/** Round values from one to another, about so many. */
export function ticks(from: number, to: number, about: number): number[] {
  const rough = (to - from) / Math.max(about, 1);
  if (!(rough > 0)) return [from];
  const power = 10 ** Math.floor(Math.log10(rough));
  const many = rough / power;
  const step = power * (many < 1.5 ? 1 : many < 3.5 ? 2 : many < 7.5 ? 5 : 10);
  const found: number[] = [];
  for (let v = Math.ceil(from / step - 1e-9) * step; v <= to + 1e-9; v += step) found.push(Number(v.toPrecision(12)));
  return found;
}
