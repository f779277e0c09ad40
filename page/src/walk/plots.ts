// All plots of a walk, with one cursor through them; dragging it looks back.
import { html } from "../svg";
import { number, withUnit } from "../numbers";
import { Feet, TimeAxis } from "./feet";
import { LEFT, Panel, RIGHT } from "./panel";
import type { CurveOf, PlotOf } from "./panel";
import type { Story } from "./story";
import type { Timeline } from "./time";
import type { WalkAbout } from "../wire";

const LOOKS: readonly [number, number[]][] = [[2, []], [1, []], [1, [8, 3]], [0.75, [12, 3, 1, 3]]];
const VALUES = 58; // px of the values beside the plots

/** What is plotted of a walk. */
export function plotsOf(about: WalkAbout): [string, PlotOf][] {
  const kinds = (quantity: string): CurveOf[] =>
    about.columns.filter((name) => name.startsWith(`${quantity}/`)).map((column, i) => {
      const [width, dash] = LOOKS[Math.min(i, LOOKS.length - 1)] ?? [1, []];
      return { column, name: column.slice(quantity.length + 1), width, dash };
    });
  const volts: CurveOf[] = [
    { column: "voltage/servo", name: "lowest servo", width: 2, dash: [] },
    { column: "voltage/supply", name: "supply", width: 1, dash: [] },
  ];
  const one = (column: string): CurveOf[] => [{ column, name: "", width: 2, dash: [] }];
  const { wanted_margin: margin, lowest_voltage: lowest, highest_winding: hottest } = about;
  return [
    ["current", { heading: "Current, greatest of all legs", unit: "A", curves: kinds("current"), decimals: 1, limit: null, told: "greatest", zero: true }],
    ["voltage", {
      heading: "Voltage", unit: "V", curves: volts, decimals: 2, told: "least", zero: false,
      limit: lowest === null ? null : { value: lowest, above: false, words: `servos reset under ${withUnit(number(lowest, 1), "V")}` },
    }],
    ["winding", {
      heading: "Winding temperature", unit: "°C", curves: kinds("winding"), decimals: 1, told: "greatest", zero: false,
      limit: hottest === null ? null : { value: hottest, above: true, words: `allowed ${withUnit(number(hottest), "°C")}` },
    }],
    ["margin", {
      heading: "Stability margin as the controller reckons", unit: "mm", curves: one("margin"), decimals: 0, told: "least", zero: true,
      limit: margin === null ? null : { value: margin, above: false, words: `wanted ${withUnit(number(margin), "mm")}` },
    }],
    ["tilt", { heading: "Tilt of the body", unit: "°", curves: one("tilt"), decimals: 1, limit: null, told: "greatest", zero: true }],
    ["way", {
      heading: "Way forward", unit: "m", decimals: 2, limit: null, told: "greatest", zero: true,
      curves: [
        { column: "way/true", name: "true", width: 2, dash: [] },
        { column: "way/believed", name: "believed", width: 1, dash: [8, 3] },
      ],
    }],
  ];
}

/** The plots in one column. */
export class Plots {
  readonly element = html("div", { class: "walk-plots" });
  private feet: Feet | null = null;
  private panels: Panel[] = [];
  private readonly axis = new TimeAxis();
  private readonly cursor = html("div", { class: "time-cursor", "aria-hidden": "true" });
  private readonly slider = html("input", { type: "range", class: "time-slide", min: "0", step: "0.02", "aria-label": "Time that is looked at" });
  private about: WalkAbout | null = null;
  private asked = false;

  constructor(private readonly story: Story, private readonly time: Timeline, private readonly moved: () => void) {
    this.slider.addEventListener("input", () => this.hold(Number(this.slider.value)));
    this.element.addEventListener("pointerdown", (event) => {
      if (!(event.target instanceof HTMLCanvasElement)) return;
      this.element.setPointerCapture(event.pointerId);
      this.point(event);
    });
    this.element.addEventListener("pointermove", (event) => {
      if (this.element.hasPointerCapture(event.pointerId)) this.point(event);
    });
    new ResizeObserver(() => this.change()).observe(this.element);
  }

  /** Draw with the next picture. */
  change(): void {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.draw();
    });
  }

  private draw(): void {
    const { story, time } = this;
    if (story.about === null) {
      this.element.replaceChildren();
      this.about = null;
      return;
    }
    if (this.about !== story.about) this.build(story.about);
    time.come(story.time);
    this.feet?.draw(story, time);
    for (const panel of this.panels) panel.draw(story, time);
    this.axis.draw(time);
    const wide = this.element.clientWidth - LEFT - RIGHT - VALUES;
    const share = (time.cursor - time.start) / (time.end - time.start);
    this.cursor.style.left = `${LEFT + Math.min(Math.max(share, 0), 1) * wide}px`;
    this.slider.max = String(Math.max(story.time, 0.02));
    this.slider.value = String(time.cursor);
    this.slider.setAttribute("aria-valuetext", `${number(time.cursor, 2)} s`);
    this.element.dataset["time"] = String(time.cursor);
  }

  private build(about: WalkAbout): void {
    this.about = about;
    this.feet = new Feet(about.legs);
    this.panels = plotsOf(about).map(([key, of]) => new Panel(of, key));
    this.element.replaceChildren(
      this.feet.element, ...this.panels.map((panel) => panel.element), this.axis.element, this.cursor,
      html("div", { class: "time-row" }, this.slider),
    );
  }

  private point(event: PointerEvent): void {
    const box = this.element.getBoundingClientRect();
    const wide = this.element.clientWidth - LEFT - RIGHT - VALUES;
    const share = (event.clientX - box.left - LEFT) / wide;
    this.hold(this.time.start + Math.min(Math.max(share, 0), 1) * (this.time.end - this.time.start));
  }

  private hold(at: number): void {
    this.time.hold(at);
    this.moved();
    this.change();
  }
}
