// Feet over time: bar = stood, line over it = felt to stand; beneath it the true force.
import { html } from "../svg";
import { number } from "../numbers";
import { LEFT, RIGHT, trace } from "./panel";
import { Paper, inks } from "./paper";
import type { Spans, Story } from "./story";
import { step } from "./time";
import type { Timeline } from "./time";

const ROW = 30;
const TOP = 18;

/** The plot of all feet. */
export class Feet {
  readonly element: HTMLElement;
  private readonly paper: Paper;
  private readonly values: HTMLElement;

  constructor(private readonly legs: readonly string[]) {
    this.paper = new Paper("Feet on the ground over time: true and felt, and the force on each", TOP + ROW * legs.length + 6);
    this.values = html("div", { class: "foot-values" });
    for (const leg of legs) this.values.append(html("div", { "data-leg": leg }, html("b"), html("small", {}, "N")));
    this.element = html("div", { class: "walk-plot feet", "data-plot": "feet" }, this.paper.element, this.values);
  }

  /** Draw anew. */
  draw(story: Story, time: Timeline): void {
    const { paper, legs } = this;
    legs.forEach((leg, i) => {
      const place = this.values.children[i]?.firstElementChild;
      const force = story.at(time.cursor, story.column(story.about?.truth ? `force/${leg}` : `felt/${leg}`));
      const text = number(force, 0);
      if (place && place.textContent !== text) place.textContent = text;
    });
    if (!paper.begin()) return;
    const ink = inks();
    const right = paper.width - RIGHT;
    const x = (at: number): number => LEFT + ((at - time.start) / (time.end - time.start)) * (right - LEFT);
    paper.text("Feet", LEFT + 6, 12, ink, { weight: 600 });
    paper.text(story.about?.truth === false ? "line: felt to stand; curve: felt force" : "bar: stood; line over it: felt so; curve: true force", LEFT + 34, 12, ink, { quiet: true, size: 11 });
    const most = this.most(story, time);
    legs.forEach((leg, i) => {
      const top = TOP + i * ROW;
      paper.text(leg, LEFT - 8, top + 12, ink, { align: "right", weight: 600 });
      this.spans(story.contact[i], time, story.time, x, top + 1, 2, ink.ink);
      this.spans(story.touch[i], time, story.time, x, top + 5, 7, ink.ink);
      const foot = top + ROW - 3;
      paper.line(LEFT, foot, right, foot, ink.hair, 1);
      const column = story.column(story.about?.truth ? `force/${leg}` : `felt/${leg}`);
      const { path } = trace(story, time, column, x, (force) => foot - Math.min(Math.max(force / most, 0), 1.1) * 13);
      paper.pen.strokeStyle = ink.ink;
      paper.pen.lineWidth = ink.weight;
      paper.pen.stroke(path);
    });
    paper.line(LEFT, TOP, LEFT, paper.height - 8, ink.ink, ink.weight);
  }

  private most(story: Story, time: Timeline): number {
    let most = (story.about?.weight ?? 20) / 2;
    const from = Math.max(Math.floor(time.start / story.width), 0);
    const to = Math.min(Math.ceil(time.end / story.width), story.bins - 1);
    for (let leg = 0; leg < this.legs.length; leg += 1) {
      for (let bin = from; bin <= to; bin += 1) most = Math.max(most, story.greatest(bin, leg) || 0);
    }
    return most;
  }

  private spans(spans: Spans | undefined, time: Timeline, newest: number, x: (at: number) => number, top: number, high: number, colour: string): void {
    const { pen } = this.paper;
    pen.fillStyle = colour;
    for (const [from, to] of spans ?? []) {
      if (to < time.start || from > time.end) continue;
      const a = x(Math.max(from, time.start));
      const b = x(Math.min(to, newest, time.end));
      if (b > a) pen.fillRect(a, top, b - a, high);
    }
  }
}

/** The time axis under all plots. */
export class TimeAxis {
  readonly paper = new Paper("time", 26);
  readonly element = html("div", { class: "walk-plot axis" }, this.paper.element, html("div", { class: "walk-value" }));

  /** Draw anew. */
  draw(time: Timeline): void {
    const { paper } = this;
    if (!paper.begin()) return;
    const ink = inks();
    const right = paper.width - RIGHT;
    const x = (at: number): number => LEFT + ((at - time.start) / (time.end - time.start)) * (right - LEFT);
    const each = step(time.end - time.start, 8);
    const ticks: number[] = [];
    for (let at = Math.ceil(time.start / each - 1e-6) * each; at <= time.end + 1e-6; at += each) ticks.push(at);
    ticks.forEach((at, i) => {
      paper.line(x(at), 0, x(at), 5, ink.ink, ink.weight);
      const words = i === ticks.length - 2 ? "s" : number(at, each < 1 ? 1 : 0);
      paper.text(words, x(at), 17, ink, { align: "center", size: 11, quiet: true, behind: false });
    });
  }
}
