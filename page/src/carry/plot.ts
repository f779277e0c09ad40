// One plot over the cycle: axes with ticks inside, the limit thick with a hatched far side, the
// part past the limit in red, the cursor as a centre line.
import { figures, number } from "../numbers";
import { svg } from "../svg";

/** What one plot shows; all series run over the cycle. */
export interface Series {
  now: Float32Array;
  before: Float32Array | null;
  /** May not be passed upward; a number, or along the cycle. */
  most: Float32Array | number | null;
  /** May not be passed downward. */
  least: Float32Array | number | null;
}

const PAD = { left: 30, right: 44, top: 16, bottom: 6 };
const GAP = 6;

/** A plot of fixed size; `cursor` moves without drawing anew. */
export class Plot {
  readonly element: SVGSVGElement;
  private readonly line = svg("path", { class: "cursor" });
  private readonly dot = svg("circle", { class: "dot", r: 3.5 });
  private readonly value = svg("text", { class: "value" });
  private series: Series | null = null;
  private low = 0;
  private high = 1;

  constructor(private readonly name: string, private readonly width: number, private readonly height: number) {
    this.line.setAttribute("d", `M0 ${PAD.top - 4}V${height - PAD.bottom}`);
    this.element = svg("svg", { class: "graph", viewBox: `0 0 ${width} ${height}`, width, height, role: "img" });
  }

  /** Draw anew. */
  draw(series: Series, low: number, high: number, unit: string): void {
    this.series = series;
    this.low = low;
    this.high = high;
    const { width, height } = this;
    const parts: SVGElement[] = [];
    if (series.most !== null) parts.push(...this.forbidden(series.most, high));
    if (series.least !== null) parts.push(...this.forbidden(series.least, low));
    parts.push(svg("path", { class: "axis", d: `M${PAD.left} ${PAD.top}V${height - PAD.bottom}H${width - PAD.right}` }));
    const all = ticks(low, high), decimals = decimalsOf((all[1] ?? high) - (all[0] ?? low));
    for (const tick of all) {
      const y = this.y(tick);
      parts.push(svg("path", { class: "axis", d: `M${PAD.left} ${y}h4` }));
      parts.push(svg("text", { class: "tick", x: PAD.left - 4, y: y + 4, "text-anchor": "end" }, tick === 0 ? "0" : number(tick, decimals)));
    }
    if (series.before !== null) parts.push(svg("path", { class: "trace before", d: this.path(series.before) }));
    parts.push(svg("path", { class: "trace", d: this.path(series.now) }));
    const over = this.over(series);
    if (over !== "") parts.push(svg("path", { class: "trace past", d: over }));
    parts.push(svg("text", { class: "name", x: PAD.left + 6, y: 11 }, this.name));
    this.dot.classList.toggle("past", over !== "");
    this.value.classList.toggle("past", over !== "");
    this.value.setAttribute("x", String(width - PAD.right + 6));
    this.element.replaceChildren(...parts, this.line, this.dot, this.value);
    this.element.setAttribute("aria-label", this.said(unit, over !== ""));
  }

  /** Move the cursor to a phase, 0 to 1; its number may wait, since letters cost more than lines. */
  cursor(phase: number, words = true): void {
    if (this.series === null) return;
    const value = at(this.series.now, phase);
    const x = this.x(phase).toFixed(1), y = this.y(value);
    this.line.setAttribute("transform", `translate(${x} 0)`);
    this.dot.setAttribute("transform", `translate(${x} ${Number.isFinite(y) ? y.toFixed(1) : -9})`);
    if (!words) return;
    this.value.setAttribute("y", String(Math.min(this.height - 4, Math.max(12, (Number.isFinite(y) ? y : 20) + 4))));
    this.value.textContent = number(value, decimalsOf(Math.max(Math.abs(this.low), Math.abs(this.high)) / 100));
  }

  private said(unit: string, past: boolean): string {
    const known = [...this.series?.now ?? []].filter(Number.isFinite);
    if (known.length === 0) return `${this.name}: not known`;
    const range = `${figures(Math.min(...known))} to ${figures(Math.max(...known))} ${unit}`;
    return `${this.name}: ${range}${past ? ", past its limit" : ""}`;
  }

  private x(phase: number): number {
    return PAD.left + phase * (this.width - PAD.left - PAD.right);
  }

  private y(value: number): number {
    const share = (value - this.low) / (this.high - this.low || 1);
    return this.height - PAD.bottom - Math.max(-0.02, Math.min(1.02, share)) * (this.height - PAD.top - PAD.bottom);
  }

  private path(values: Float32Array): string {
    let d = "", pen = "M";
    for (let i = 0; i <= values.length; i += 1) {
      const value = values[i % values.length] ?? NaN;
      if (!Number.isFinite(value)) {
        pen = "M";
        continue;
      }
      d += `${pen}${this.x(i / values.length).toFixed(1)} ${this.y(value).toFixed(1)}`;
      pen = "L";
    }
    return d;
  }

  private over({ now, most, least }: Series): string {
    let d = "", pen = "M";
    for (let i = 0; i < now.length; i += 1) {
      const value = now[i] ?? NaN, upper = limitAt(most, i), lower = limitAt(least, i);
      if (value > upper || value < lower) {
        d += `${pen}${this.x(i / now.length).toFixed(1)} ${this.y(value).toFixed(1)}`;
        if (pen === "M") d += "l.01 0";
        pen = "L";
      } else pen = "M";
    }
    return d;
  }

  /** The limit's line, and hatch from it to the edge of the plot. */
  private forbidden(limit: Float32Array | number, edge: number): SVGElement[] {
    const values = typeof limit === "number" ? new Float32Array([limit, limit]) : limit;
    const known = [...values].filter(Number.isFinite);
    if (known.length === 0) return [];
    const nearest = edge === this.high ? Math.min(...known) : Math.max(...known);
    if (edge === this.high ? nearest >= this.high : nearest <= this.low) return this.beyond(nearest, edge === this.high, typeof limit !== "number");
    const top = this.y(edge), hatch: string[] = [];
    const from = PAD.left, to = this.width - PAD.right, deep = Math.abs(this.y(nearest) - top) + 20;
    for (let x = from - deep; x < to; x += GAP) {
      const clipped = this.clip(x, top, deep, values, edge === this.high);
      if (clipped !== "") hatch.push(clipped);
    }
    const far = values.some((v) => v > this.high || v < this.low);
    return [
      svg("path", { class: "hatch", d: hatch.join("") }), svg("path", { class: "limit", d: this.path(this.within(values)) }),
      ...(far ? this.told(nearest, edge === this.high, true) : []),
    ];
  }

  /** A limit that lies off the plot: its line along the edge, an arrow that way, and where it begins. */
  private beyond(nearest: number, upper: boolean, varies: boolean): SVGElement[] {
    const y = this.y(upper ? this.high : this.low), right = this.width - PAD.right;
    return [svg("path", { class: "limit", d: `M${PAD.left} ${y}H${right}` }), ...this.told(nearest, upper, varies)];
  }

  private told(nearest: number, upper: boolean, varies: boolean): SVGElement[] {
    const y = this.y(upper ? this.high : this.low), right = this.width - PAD.right, sign = upper ? -1 : 1;
    const words = `limit ${figures(nearest, 3)}${varies ? (upper ? " at least" : " at most") : ""}`;
    return [
      svg("path", { class: "far", d: `M${right - 9} ${y}l3.5 ${6 * sign}l3.5 ${-6 * sign}z` }),
      svg("text", { class: "tick", x: right - 13, y: upper ? y - 3 : y + 11, "text-anchor": "end" }, words),
    ];
  }

  /** What lies off the plot runs along its edge. */
  private within(values: Float32Array): Float32Array {
    return values.map((v) => Math.min(this.high, Math.max(this.low, v)));
  }

  /** One stroke at 45° from the edge, as far as the limit. */
  private clip(x: number, top: number, deep: number, values: Float32Array, upper: boolean): string {
    let d = "", pen = "M";
    const step = 1.5, sign = upper ? 1 : -1;
    for (let s = 0; s <= deep; s += step) {
      const px = x + s, py = top + sign * s;
      const phase = (px - PAD.left) / (this.width - PAD.left - PAD.right);
      const bound = phase < 0 || phase > 1 ? NaN : this.y(at(values, Math.min(phase, 0.999)));
      const inside = upper ? py <= bound : py >= bound;
      if (inside) {
        d += `${pen}${px.toFixed(1)} ${py.toFixed(1)}`;
        pen = "L";
      } else pen = "M";
    }
    return d.replace(/M[^LM]*(?=M|$)/g, "");
  }
}

/** A series at a phase, between samples on the straight line. */
export function at(values: Float32Array, phase: number): number {
  const place = (((phase % 1) + 1) % 1) * values.length;
  const i = Math.floor(place), part = place - i;
  const a = values[i % values.length] ?? NaN, b = values[(i + 1) % values.length] ?? NaN;
  return a + (b - a) * part;
}

/** Decimals that tell values apart which differ by so much: one resolution for all of a plot. */
function decimalsOf(difference: number): number {
  return difference > 0 ? Math.max(0, Math.min(6, -Math.floor(Math.log10(difference * 1.001)))) : 0;
}

function limitAt(limit: Float32Array | number | null, i: number): number {
  if (limit === null) return NaN;
  return typeof limit === "number" ? limit : limit[i] ?? NaN;
}

/** Two to four round numbers of a range. */
export function ticks(low: number, high: number): number[] {
  const span = high - low;
  if (!(span > 0)) return [low];
  const rough = span / 3, power = 10 ** Math.floor(Math.log10(rough));
  const many = rough / power, step = power * (many < 1.5 ? 1 : many < 3.5 ? 2 : many < 7.5 ? 5 : 10);
  const found: number[] = [];
  for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + 1e-9 * span; v += step) found.push(Math.abs(v) < step / 1e6 ? 0 : v);
  return found;
}
