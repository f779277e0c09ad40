// Torque against speed of one joint: a dot for every instant, the servo's line at the least voltage
// of the cycle, and beyond it what it cannot give.
import { figures } from "../numbers";
import type { Kept } from "../store";
import { svg } from "../svg";
import type { Cycle } from "../wire";
import { at, ticks } from "./plot";
import { column } from "./quantities";

const PAD = { left: 40, right: 16, top: 22, bottom: 30 };
const GAP = 6;

/** The cloud of one joint. */
export class Cloud {
  readonly element = svg("svg", { class: "graph cloud", role: "img" });
  private readonly dot = svg("circle", { class: "dot", r: 4.5 });
  private speed: Float32Array = new Float32Array();
  private torque: Float32Array = new Float32Array();
  private x: (v: number) => number = () => 0;
  private y: (v: number) => number = () => 0;

  /** Draw anew; `lines` tells whether the servo's line is known. */
  draw(cycle: Kept<Cycle>, before: Kept<Cycle> | null, joint: number, name: string, width: number): void {
    const height = Math.round(width * 0.52);
    this.element.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.element.setAttribute("width", String(width));
    this.element.setAttribute("height", String(height));
    this.speed = column(cycle, "speed", joint, Math.abs);
    this.torque = column(cycle, "torque", joint, Math.abs);
    const N = (cycle.arrays["line_speed"]?.length ?? 0) / cycle.header.joints.length;
    const lineSpeed = row(cycle.arrays["line_speed"], joint, N), lineTorque = row(cycle.arrays["line_torque"], joint, N);
    const most = Math.max(...known(this.speed), ...known(lineSpeed), 1e-6) * 1.05;
    const top = Math.max(...known(this.torque), ...known(lineTorque), 1e-6) * 1.08;
    this.x = (v) => PAD.left + (v / most) * (width - PAD.left - PAD.right);
    this.y = (v) => height - PAD.bottom - (v / top) * (height - PAD.top - PAD.bottom);
    const parts: SVGElement[] = [];
    if (known(lineSpeed).length > 1) parts.push(...this.forbidden(lineSpeed, lineTorque, most, top));
    parts.push(svg("path", { class: "axis", d: `M${PAD.left} ${PAD.top}V${height - PAD.bottom}H${width - PAD.right}` }));
    for (const v of ticks(0, top)) {
      parts.push(svg("path", { class: "axis", d: `M${PAD.left} ${this.y(v)}h4` }));
      parts.push(svg("text", { class: "tick", x: PAD.left - 5, y: this.y(v) + 4, "text-anchor": "end" }, figures(v, 2)));
    }
    for (const v of ticks(0, most)) {
      parts.push(svg("path", { class: "axis", d: `M${this.x(v)} ${height - PAD.bottom}v-4` }));
      parts.push(svg("text", { class: "tick", x: this.x(v), y: height - PAD.bottom + 14, "text-anchor": "middle" }, figures(v, 2)));
    }
    parts.push(
      svg("text", { class: "name", x: PAD.left, y: 13 }, `${name}: torque [N·m] against speed [rad/s]`),
    );
    if (before !== null && before.header.joints.length === cycle.header.joints.length) {
      const s = column(before, "speed", joint, Math.abs), t = column(before, "torque", joint, Math.abs);
      parts.push(svg("path", { class: "trace before", d: this.path(s, t) }));
    }
    let inside = "", outside = "";
    for (let i = 0; i < this.speed.length; i += 1) {
      const s = this.speed[i] ?? NaN, t = this.torque[i] ?? NaN;
      if (!Number.isFinite(s) || !Number.isFinite(t)) continue;
      const stroke = `M${this.x(s).toFixed(1)} ${this.y(t).toFixed(1)}h.01`;
      if (t > available(lineSpeed, lineTorque, s)) outside += stroke;
      else inside += stroke;
    }
    parts.push(svg("path", { class: "spots", d: inside }), svg("path", { class: "spots past", d: outside }));
    this.element.setAttribute("aria-label", `${name}: highest torque ${figures(Math.max(...known(this.torque)))} N·m, highest speed ${figures(Math.max(...known(this.speed)))} rad/s`);
    this.element.replaceChildren(...parts, this.dot);
  }

  cursor(phase: number): void {
    if (this.speed.length === 0) return;
    const [x, y] = [this.x(at(this.speed, phase)), this.y(at(this.torque, phase))];
    this.dot.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
  }

  private path(speed: Float32Array, torque: Float32Array): string {
    let d = "";
    for (let i = 0; i <= speed.length; i += 1) {
      const s = speed[i % speed.length] ?? NaN, t = torque[i % speed.length] ?? NaN;
      if (Number.isFinite(s) && Number.isFinite(t)) d += `${d === "" ? "M" : "L"}${this.x(s).toFixed(1)} ${this.y(t).toFixed(1)}`;
    }
    return d;
  }

  private forbidden(speed: Float32Array, torque: Float32Array, most: number, top: number): SVGElement[] {
    const strokes: string[] = [];
    const x0 = this.x(0), x1 = this.x(most), y0 = this.y(0), y1 = this.y(top);
    for (let start = x0 - (y0 - y1); start < x1; start += GAP) {
      let pen = "M", stroke = "";
      for (let s = 0; s <= y0 - y1; s += 2) {
        const px = start + s, py = y1 + s;
        if (px < x0 || px > x1) continue;
        const v = ((px - x0) / (x1 - x0)) * most, t = ((y0 - py) / (y0 - y1)) * top;
        if (t > available(speed, torque, v)) {
          stroke += `${pen}${px.toFixed(1)} ${py.toFixed(1)}`;
          pen = "L";
        } else pen = "M";
      }
      strokes.push(stroke);
    }
    return [svg("path", { class: "hatch", d: strokes.join("") }), svg("path", { class: "limit", d: this.line(speed, torque) })];
  }

  private line(speed: Float32Array, torque: Float32Array): string {
    return [...speed].map((s, i) => `${i === 0 ? "M" : "L"}${this.x(s).toFixed(1)} ${this.y(torque[i] ?? 0).toFixed(1)}`).join("");
  }
}

/** Torque that the line gives at a speed; nothing beyond its end. */
export function available(speed: Float32Array, torque: Float32Array, v: number): number {
  if (speed.length < 2) return Infinity;
  for (let i = 1; i < speed.length; i += 1) {
    const a = speed[i - 1] ?? 0, b = speed[i] ?? 0;
    if (v <= b) {
      const share = b > a ? (v - a) / (b - a) : 0;
      return (torque[i - 1] ?? 0) + share * ((torque[i] ?? 0) - (torque[i - 1] ?? 0));
    }
  }
  return 0;
}

function row(values: Float32Array | undefined, joint: number, N: number): Float32Array {
  const found = (values ?? new Float32Array()).slice(joint * N, (joint + 1) * N);
  return found.some((v) => !Number.isFinite(v)) ? new Float32Array() : found;
}

function known(values: Float32Array): number[] {
  return [...values].filter(Number.isFinite);
}
