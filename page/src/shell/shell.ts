// The sheet: frame and zones, the bands above and below, the figure, and the open question.
import { turnTheme } from "../look";
import { html, svg } from "../svg";
import type { Desk, View } from "../view";
import { announcer } from "./announce";
import { findingPanel } from "./finding";
import { changesBar } from "./changes";
import { aspectRow } from "./aspects";
import { keyboard } from "./keys";
import { linkNotice } from "./notice";
import { ruler } from "./ruler";
import { Strip } from "./strip";
import { titleBlock } from "./title_block";
import { verdictBand } from "./verdict_band";

const COLUMNS = 8;
const ROWS = "ABCDEF";

/** The page around the views. */
export class Shell {
  readonly figurePlace = html("div", { class: "picture" });
  /** The view that is mounted. */
  view: View | null = null;
  private readonly figureHead = html("div", { class: "figure-head" });
  private readonly sheet = html("div", { class: "sheet" });
  private readonly band = html("header", { class: "band" });
  private readonly question = html("section", { class: "question", "aria-labelledby": "question-title" });
  private readonly panel = html("div", { class: "panel", role: "tabpanel", id: "panel", "aria-labelledby": "question-title", tabindex: "0" });
  private readonly title = html("h2", { id: "question-title", class: "title" });
  /** Beside the question: for what a view wants at hand; emptied when it goes. */
  readonly tools = html("div", { class: "tools" });
  private readonly foot = html("footer", { class: "foot" });
  private readonly corner = html("div", { class: "corner" });
  private readonly stage = html("section", { class: "stage", "aria-label": "Drawings of the robot", hidden: "" });
  private strip: Strip | null = null;
  private desk: Desk | null = null;
  private views: readonly View[] = [];
  private cornerFill: HTMLElement | null = null;
  private say: (text: string) => void = () => undefined;

  constructor(body: HTMLElement) {
    const figure = html("section", { class: "figure", "aria-label": "Figure of the robot" }, this.figureHead, this.figurePlace);
    this.figurePlace.tabIndex = 0;
    this.sheet.append(this.band, html("main", { class: "main" }, figure, this.stage, this.question), this.foot);
    body.append(...zones(), this.sheet);
  }

  /** Fill the sheet and open the first question. */
  start(desk: Desk, views: readonly View[]): void {
    this.desk = desk;
    this.views = views;
    this.say = announcer(document.body, desk);
    this.band.append(verdictBand(desk));
    this.figureHead.append(aspectRow(desk));
    this.figurePlace.before(linkNotice(desk)); // the picture makes room for it
    this.strip = new Strip(views.map((view) => view.word), (index) => this.open(index));
    desk.store.listen(["verdict"], () => this.strip?.tell(views.map((view) => desk.store.worst(view.areas))));
    this.question.append(this.strip.row, findingPanel(desk), html("div", { class: "title-row" }, this.title, this.tools), this.panel, changesBar(desk));
    this.foot.append(ruler(desk), titleBlock(desk), this.corner);
    this.setCorner(null);
    keyboard(desk, () => turnTheme());
    this.open(this.askedFor());
    addEventListener("hashchange", () => this.open(this.askedFor()));
  }

  /** Open a question, 0 to 4. */
  open(index: number): void {
    const next = this.views[index];
    if (next === undefined || this.desk === null || next === this.view) return;
    this.view?.unmount();
    this.desk.figure.follow(null);
    this.panel.replaceChildren();
    this.tools.replaceChildren();
    this.panel.scrollTop = 0;
    this.view = next;
    this.title.textContent = next.question;
    this.strip?.choose(index);
    if (location.hash !== `#${index + 1}`) history.replaceState(null, "", `#${index + 1}`);
    next.mount(this.panel, this.desk);
    this.desk.store.tell("question");
  }

  /** Areas of the verdict by question. */
  get areas(): readonly (readonly string[])[] {
    return this.views.map((view) => view.areas);
  }

  /** How many questions there are. */
  get count(): number {
    return this.views.length;
  }

  /** Say something to screen readers. */
  tell(text: string): void {
    this.say(text);
  }

  /** What stands in the lower right corner: a stop while a robot is connected, else null. */
  setCorner(fill: HTMLElement | null): void {
    if (fill === this.cornerFill && fill !== null) return;
    this.cornerFill = fill;
    this.corner.replaceChildren(...(fill === null ? [] : [fill]));
    this.corner.hidden = fill === null;
    this.sheet.classList.toggle("armed", fill !== null);
  }

  /** What stands in the figure's place: a drawing of a view, or the figure again when null. */
  setStage(fill: HTMLElement | null): void {
    this.stage.replaceChildren(...(fill === null ? [] : [fill]));
    this.stage.hidden = fill === null;
    this.sheet.classList.toggle("staged", fill !== null);
  }

  /** The figure is asked for: a view that has its place may give it back. */
  wantFigure(): void {
    this.view?.onFigureWanted?.();
  }

  /** Whether the corner holds a stop. */
  get armed(): boolean {
    return this.cornerFill !== null;
  }

  private askedFor(): number {
    const n = Number.parseInt(location.hash.slice(1), 10);
    return n >= 1 && n <= this.views.length ? n - 1 : 0;
  }
}

function zones(): Element[] {
  const top = html("div", { class: "zones top", "aria-hidden": "true" });
  for (let i = 1; i <= COLUMNS; i += 1) top.append(html("span", {}, String(i)));
  const left = html("div", { class: "zones left", "aria-hidden": "true" });
  for (const letter of ROWS) left.append(html("span", {}, letter));
  const middle = svg("svg", { class: "middle", viewBox: "0 0 2 10", "aria-hidden": "true" }, svg("path", { d: "M1 0v10" }));
  top.append(middle);
  return [top, left];
}
