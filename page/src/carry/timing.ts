// Foot timing: a bar while a foot is on the ground. Drag a bar to shift its leg, its end to change
// how long all feet stand; arrow keys do the same.
import { number } from "../numbers";
import { html, svg } from "../svg";
import type { Desk } from "../view";

const ROW = 22, LEFT = 40, RIGHT = 14, TOP = 8, BAR = 11;
const DUTY = [0.34, 0.95] as const;

/** The bars, and what dragging them asks for. */
export class Timing {
  readonly element = html("div", { class: "timing" });
  private readonly paper = svg("svg", { class: "graph", role: "group", "aria-label": "Foot timing" });
  private readonly cursorLine = svg("path", { class: "cursor" });
  private width = 400;
  private phases: number[] = [];
  private duty = 0.5;
  private grip: { leg: number; from: number; phases: number[]; duty: number; end: boolean } | null = null;

  constructor(private readonly desk: Desk) {
    this.element.append(this.paper);
    this.paper.addEventListener("pointermove", (event) => this.move(event));
    this.paper.addEventListener("pointerup", (event) => this.release(event));
    this.paper.addEventListener("pointercancel", (event) => this.release(event));
  }

  /** Show what is walked. */
  show(width: number): void {
    const cycle = this.desk.store.cycle.now;
    if (cycle === null || this.grip !== null) return;
    this.width = width;
    this.phases = [...cycle.header.phases];
    this.duty = cycle.header.duty;
    this.draw(cycle.header.legs);
  }

  cursor(phase: number): void {
    const bottom = TOP + ROW * this.phases.length;
    this.cursorLine.setAttribute("d", `M0 ${TOP - 6}V${bottom}`);
    this.cursorLine.setAttribute("transform", `translate(${this.x(phase).toFixed(1)} 0)`);
  }

  private x(phase: number): number {
    return LEFT + phase * (this.width - LEFT - RIGHT);
  }

  private draw(legs: readonly string[]): void {
    const height = TOP + ROW * legs.length + 4;
    this.paper.setAttribute("viewBox", `0 0 ${this.width} ${height}`);
    this.paper.setAttribute("width", String(this.width));
    this.paper.setAttribute("height", String(height));
    const focused = document.activeElement instanceof SVGElement ? document.activeElement.dataset["leg"] : undefined;
    const parts: SVGElement[] = [];
    legs.forEach((leg, i) => parts.push(this.row(leg, i)));
    this.paper.replaceChildren(...parts, this.cursorLine);
    this.cursor(this.desk.cursor.phase);
    if (focused !== undefined) this.paper.querySelector<SVGElement>(`[data-leg="${focused}"]`)?.focus();
  }

  private row(leg: string, i: number): SVGElement {
    const y = TOP + ROW * i + ROW / 2, phase = this.phases[i] ?? 0;
    const short = this.desk.store.welcome?.short[leg] ?? leg;
    const group = svg("g", {
      class: "bar", tabindex: 0, role: "slider", "data-leg": leg, "aria-label": `${leg} touches down`,
      "aria-valuemin": 0, "aria-valuemax": 1, "aria-valuenow": phase.toFixed(2),
      "aria-valuetext": `at ${number(phase, 2)} of the cycle, stands ${number(this.duty, 2)}`,
    });
    group.append(
      svg("rect", { class: "reach", x: 0, y: y - ROW / 2, width: this.width, height: ROW }),
      svg("text", { class: "name", x: LEFT - 10, y: y + 5, "text-anchor": "end" }, short),
      svg("path", { class: "base", d: `M${LEFT} ${y}H${this.width - RIGHT}` }),
    );
    for (const [from, to] of spans(phase, this.duty)) {
      group.append(svg("rect", { class: "down", x: this.x(from), y: y - BAR / 2, width: this.x(to) - this.x(from), height: BAR }));
    }
    const end = (phase + this.duty) % 1;
    group.append(svg("rect", { class: "end", x: this.x(end) - 9, y: y - 11, width: 18, height: 22 }));
    group.addEventListener("pointerdown", (event) => this.take(event, i));
    group.addEventListener("keydown", (event) => this.key(event, i));
    return group;
  }

  private at(event: PointerEvent): number {
    const box = this.paper.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * this.width;
    return (x - LEFT) / (this.width - LEFT - RIGHT);
  }

  private take(event: PointerEvent, leg: number): void {
    const end = event.target instanceof SVGElement && event.target.classList.contains("end");
    this.grip = { leg, from: this.at(event), phases: [...this.phases], duty: this.duty, end };
    this.paper.setPointerCapture(event.pointerId);
    event.preventDefault();
    const bar = event.currentTarget;
    if (bar instanceof SVGElement) bar.focus();
  }

  private move(event: PointerEvent): void {
    if (this.grip === null) return;
    const by = this.at(event) - this.grip.from;
    if (this.grip.end) this.duty = clamp(snap(this.grip.duty + by));
    else this.phases[this.grip.leg] = (((snap((this.grip.phases[this.grip.leg] ?? 0) + by)) % 1) + 1) % 1;
    this.draw(this.desk.store.cycle.now?.header.legs ?? []);
  }

  private release(event: PointerEvent): void {
    if (this.grip === null) return;
    const moved = this.duty !== this.grip.duty || this.phases.some((p, i) => p !== this.grip?.phases[i]);
    this.grip = null;
    if (this.paper.hasPointerCapture(event.pointerId)) this.paper.releasePointerCapture(event.pointerId);
    if (moved) this.ask();
  }

  private key(event: KeyboardEvent, leg: number): void {
    const step = { ArrowLeft: -0.01, ArrowRight: 0.01, ArrowDown: -0.01, ArrowUp: 0.01 }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    if (event.shiftKey) this.duty = clamp(snap(this.duty + step));
    else this.phases[leg] = (((snap((this.phases[leg] ?? 0) + step)) % 1) + 1) % 1;
    this.ask();
  }

  private ask(): void {
    const header = this.desk.store.cycle.now?.header;
    if (header === undefined) return;
    const phases: Record<string, number> = {};
    header.legs.forEach((leg, i) => (phases[leg] = this.phases[i] ?? 0));
    this.desk.link.send({
      type: "ask", gait: header.gait.replace(/, changed$/, ""), duty: this.duty, phases, velocity: header.velocity, turn: header.turn,
      cycle: header.cycle, slope: header.slope, uphill: header.uphill,
    });
  }
}

/** Stretches of 0 to 1 in which a foot stands. */
export function spans(phase: number, duty: number): [number, number][] {
  const end = phase + duty;
  return end <= 1 ? [[phase, end]] : [[phase, 1], [0, end - 1]];
}

function snap(value: number): number {
  return Math.round(value * 100) / 100;
}

function clamp(duty: number): number {
  return Math.max(DUTY[0], Math.min(DUTY[1], duty));
}
