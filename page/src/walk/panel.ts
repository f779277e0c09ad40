// One plot of a walk over time: curves, their limit, and the value at the cursor.
import { number } from "../numbers";
import { html } from "../svg";
import { Paper, inks } from "./paper";
import type { Inks } from "./paper";
import type { Story } from "./story";
import { step } from "./time";
import type { Timeline } from "./time";

export const LEFT = 40;
export const RIGHT = 8;
const NAME = 84; // px for the longest name of a curve

/** A curve: which column, what it is called, how it is drawn. */
export interface CurveOf {
  column: string;
  name: string;
  width: number;
  dash: number[];
}

/** What a plot shows. */
export interface PlotOf {
  heading: string;
  unit: string;
  curves: readonly CurveOf[];
  decimals: number;
  limit: { value: number; above: boolean; words: string } | null;
  /** Which of the curves' values is told: the greatest or the least. */
  told: "greatest" | "least";
  /** Whether zero is always in sight. */
  zero: boolean;
}

/** A plot. */
export class Panel {
  readonly element: HTMLElement;
  private readonly paper: Paper;
  private readonly value = html("b");
  private readonly unit = html("small");

  constructor(readonly of: PlotOf, readonly key: string) {
    this.paper = new Paper(`${of.heading} over time`, 84);
    this.unit.textContent = of.unit;
    const head = html("div", { class: "walk-value" }, this.value, this.unit);
    this.element = html("div", { class: "walk-plot", "data-plot": key }, this.paper.element, head);
  }

  /** Draw anew. */
  draw(story: Story, time: Timeline): void {
    const { of, paper } = this;
    const ink = inks();
    const columns = of.curves.map((curve) => story.column(curve.column));
    this.tell(story, time, columns);
    if (!paper.begin()) return;
    const [top, bottom, right] = [18, paper.height - 4, paper.width - RIGHT];
    const { low, high, each } = this.range(story, time, columns);
    const y = (value: number): number => bottom - ((value - low) / (high - low)) * (bottom - top);
    const x = (at: number): number => LEFT + ((at - time.start) / (time.end - time.start)) * (right - LEFT);
    this.limit(y, top, bottom, right, ink);
    const end = this.curves(story, time, columns, x, y, ink, top, bottom, right);
    this.axis(low, high, each, y, top, bottom, right, ink);
    paper.text(of.heading, LEFT + 6, 12, ink, { weight: 600 });
    // Beside the curve's end; where the paper is full, over it.
    const beside = x(Math.min(story.time, time.end)) + 7, room = beside < right - NAME;
    for (const { name, at } of spread(end, top + 6, bottom - 2)) {
      paper.text(name, room ? beside : right - 2, at, ink, { align: room ? "left" : "right", size: 11 });
    }
    if (end.length === 0) paper.text("not known", LEFT + 6, (top + bottom) / 2 + 4, ink, { quiet: true });
  }

  private tell(story: Story, time: Timeline, columns: readonly number[]): void {
    const { of } = this;
    const known = columns.map((column) => story.at(time.cursor, column)).filter(Number.isFinite);
    const value = known.length === 0 ? NaN : of.told === "least" ? Math.min(...known) : Math.max(...known);
    const text = number(value, of.decimals);
    if (this.value.textContent !== text) this.value.textContent = text;
    const beyond = of.limit !== null && (of.limit.above ? value > of.limit.value : value < of.limit.value);
    this.element.classList.toggle("beyond", beyond);
  }

  private range(story: Story, time: Timeline, columns: readonly number[]): { low: number; high: number; each: number } {
    const { of } = this;
    let [low, high] = of.zero ? [0, 0] : [Infinity, -Infinity];
    const from = Math.max(Math.floor(time.start / story.width), 0);
    const to = Math.min(Math.ceil(time.end / story.width), story.bins - 1);
    for (let bin = from; bin <= to; bin += 1) {
      for (const column of columns) {
        const [a, b] = [story.least(bin, column), story.greatest(bin, column)];
        if (a < low) low = a;
        if (b > high) high = b;
      }
    }
    if (!(low <= high)) [low, high] = [0, 1];
    const span = Math.max(high - low, of.limit === null ? 0 : 0.1 * Math.abs(of.limit.value), 10 ** -of.decimals * 4);
    if (of.limit !== null) {
      // The limit is in sight whenever it is not far away; else its distance is in words.
      if (of.limit.above) high = Math.max(high, Math.min(of.limit.value + 0.25 * span, high + 2 * span));
      else low = Math.min(low, Math.max(of.limit.value - 0.25 * span, low - 2 * span));
    }
    const each = step(Math.max(high - low, span), 4);
    const under = Math.floor(low / each + 1e-9) * each;
    return { low: under, high: Math.max(Math.ceil(high / each - 1e-9) * each, under + each), each }; // what never changes has a scale too
  }

  private limit(y: (value: number) => number, top: number, bottom: number, right: number, ink: Inks): void {
    const { limit } = this.of;
    if (limit === null) return;
    const at = y(limit.value);
    if (at < top - 1 || at > bottom + 1) return;
    if (limit.above) this.paper.hatch(LEFT, top, right - LEFT, at - top, ink);
    else this.paper.hatch(LEFT, at, right - LEFT, bottom - at, ink);
    this.paper.line(LEFT, at, right, at, ink.ink, 2 * ink.weight);
    const words = limit.above ? Math.max(at - 3, top + 10) : Math.min(at + 12, bottom - 2);
    this.paper.text(limit.words, LEFT + 6, words, ink, { quiet: true, size: 11 });
  }

  private curves(
    story: Story, time: Timeline, columns: readonly number[], x: (at: number) => number,
    y: (value: number) => number, ink: Inks, top: number, bottom: number, right: number,
  ): { name: string; at: number }[] {
    const { of, paper } = this;
    const { pen } = paper;
    const ends: { name: string; at: number }[] = [];
    pen.save();
    pen.beginPath();
    pen.rect(LEFT, top - 6, right - LEFT, bottom - top + 8);
    pen.clip();
    of.curves.forEach((curve, i) => {
      const column = columns[i] ?? -1;
      const { path, last } = trace(story, time, column, x, y);
      if (Number.isNaN(last)) return;
      ends.push({ name: curve.name, at: y(last) });
      pen.setLineDash(curve.dash);
      pen.strokeStyle = ink.ink;
      pen.lineWidth = curve.width * ink.weight;
      pen.lineJoin = "round";
      pen.stroke(path);
      pen.setLineDash([]);
      if (of.limit === null) return;
      pen.save();
      pen.beginPath();
      const at = y(of.limit.value);
      if (of.limit.above) pen.rect(LEFT, top - 6, right - LEFT, at - top + 6);
      else pen.rect(LEFT, at, right - LEFT, bottom - at + 4);
      pen.clip();
      pen.strokeStyle = ink.red;
      pen.lineWidth = 3.6 * ink.weight;
      pen.stroke(path);
      pen.restore();
    });
    pen.restore();
    return ends;
  }

  private axis(low: number, high: number, each: number, y: (value: number) => number, top: number, bottom: number, right: number, ink: Inks): void {
    const { paper, of } = this;
    paper.line(LEFT, top, LEFT, bottom, ink.ink, ink.weight);
    paper.line(LEFT, bottom, right, bottom, ink.ink, ink.weight);
    const count = Math.round((high - low) / each);
    for (let i = 0; i <= count; i += 1) {
      const value = low + i * each;
      const at = y(value);
      paper.line(LEFT, at, LEFT + 5, at, ink.ink, ink.weight);
      if (i > 0 && i < count - 1 && count > 3 && i % 2 === 1) continue;
      const words = i === count - 1 && count > 1 ? of.unit : number(value, each < 1 ? Math.min(2, Math.ceil(-Math.log10(each))) : 0);
      paper.text(words, LEFT - 5, at + 4, ink, { align: "right", size: 11, quiet: true, behind: false });
    }
  }
}

/** A curve as an envelope: one stretch up and down for each pixel. */
export function trace(
  story: Story, time: Timeline, column: number, x: (at: number) => number, y: (value: number) => number,
): { path: Path2D; last: number } {
  const path = new Path2D();
  let [last, open] = [NaN, false];
  if (column < 0) return { path, last };
  const from = Math.max(Math.floor(time.start / story.width) - 1, 0);
  const to = Math.min(Math.ceil(time.end / story.width), story.bins - 1);
  const perPixel = Math.max(1, Math.floor((to - from) / Math.max(x(time.end) - x(time.start), 1)));
  for (let bin = from; bin <= to; bin += perPixel) {
    let [low, high] = [Infinity, -Infinity];
    for (let n = bin; n < Math.min(bin + perPixel, to + 1); n += 1) {
      const [a, b] = [story.least(n, column), story.greatest(n, column)];
      if (a < low) low = a;
      if (b > high) high = b;
    }
    if (!(low <= high)) {
      open = false;
      continue;
    }
    const at = x((bin + 0.5 * perPixel) * story.width);
    if (open) path.lineTo(at, y(low));
    else path.moveTo(at, y(low));
    path.lineTo(at, y(high));
    open = true;
    last = high;
  }
  return { path, last };
}

/** Labels moved apart so that none lies on another. */
function spread(labels: readonly { name: string; at: number }[], top: number, bottom: number): { name: string; at: number }[] {
  const sorted = labels.map((each) => ({ ...each, at: each.at - 4 })).sort((a, b) => a.at - b.at);
  let last = top - 12;
  for (const each of sorted) {
    each.at = Math.max(each.at, last + 11);
    last = each.at;
  }
  let next = bottom + 11;
  for (const each of [...sorted].reverse()) {
    each.at = Math.min(each.at, next - 11);
    next = each.at;
  }
  return sorted;
}
