// Does it stand? The shape, editable in place; what each change does to reach and margin.
import { FieldList } from "../fields/list";
import { html } from "../svg";
import type { Desk, View } from "../view";
import type { Moved } from "../plot";
import { marginPlot } from "./margin_plot";
import { PullPanel } from "./pulling";
import { reachPlot } from "./reach_plot";

const FIRST = ["dimensions", "fit", "stance", "requirements"];

/** The first question. */
export class StandView implements View {
  readonly word = "stands";
  readonly question = "Does it stand?";
  readonly areas: readonly string[] = ["build", "reach", "ground", "balance", "grip", "clash", "foot", "tolerance"];
  private desk: Desk | null = null;
  private list: FieldList | null = null;
  private pull: PullPanel | null = null;
  private off: (() => void)[] = [];
  private leg = "";
  private drawn = 0;
  private moved: Moved[] = [];
  private readonly plots = html("div", { class: "pair" });
  private readonly fixed = html("p", { class: "say fixed", hidden: "" });
  private readonly legs = html("select", { "aria-label": "Leg whose reach is drawn" });

  mount(place: HTMLElement, desk: Desk): void {
    this.desk = desk;
    const { store } = desk;
    this.list = new FieldList(desk, FIRST);
    this.pull = new PullPanel(desk);
    const find = html("input", { type: "search", "aria-label": "Find in the sheet", placeholder: "find in the sheet", autocomplete: "off" });
    find.addEventListener("input", () => this.list?.filter(find.value));
    desk.shell.tools.append(html("label", { class: "leg-choice" }, "reach of ", this.legs), find);
    this.legs.addEventListener("change", () => this.choose(this.legs.value));
    place.append(
      this.plots, this.fixed, this.list.element, this.pull.element,
    );
    this.off = [
      store.listen(["cycle", "reach", "pulled", "edits"], () => this.later()),
      store.listen(["welcome"], () => this.drawLegs()),
      store.listen(["finding"], () => {
        const leg = store.opened?.parts.map((part) => this.legOf(part)).find((each) => each !== "");
        if (leg) this.choose(leg);
      }),
    ];
    this.drawLegs();
    this.draw();
  }

  unmount(): void {
    for (const each of this.off) each();
    this.off = [];
    this.list?.dispose();
    this.pull?.dispose();
    this.list = this.pull = null;
    this.desk = null;
  }

  onCursor(phase: number): void {
    for (const each of this.moved) each.move(phase);
  }

  private legOf(part: string): string {
    const legs = this.desk?.store.welcome?.legs ?? {};
    return Object.keys(legs).find((leg) => leg === part || legs[leg]?.includes(part)) ?? "";
  }

  private choose(leg: string): void {
    this.leg = leg;
    this.legs.value = leg;
    this.draw();
  }

  private drawLegs(): void {
    const welcome = this.desk?.store.welcome;
    if (!welcome) return;
    const parts = welcome.fixed.split("`"); // what stands between is to be typed
    this.fixed.replaceChildren(...parts.map((part, i) => i % 2 === 0 ? part : html("b", {}, part)));
    this.fixed.hidden = welcome.fixed === "";
    this.legs.replaceChildren(...Object.keys(welcome.legs).map((leg) => html("option", { value: leg }, welcome.short[leg] ?? leg)));
    this.choose(welcome.legs[this.leg] ? this.leg : Object.keys(welcome.legs)[0] ?? "");
  }

  /** At most one drawing a picture. */
  private later(): void {
    if (this.drawn !== 0) return;
    this.drawn = requestAnimationFrame(() => {
      this.drawn = 0;
      this.draw();
    });
  }

  private draw(): void {
    if (this.desk === null) return;
    const { store, cursor } = this.desk;
    const margin = marginPlot(store);
    const reach = reachPlot(store, this.leg, () => this.pull?.pulled ?? null);
    this.moved = [margin, reach].filter((each) => each !== null);
    this.onCursor(cursor.phase);
    const empty = (text: string): HTMLElement => html("p", { class: "quiet plot" }, text);
    this.plots.replaceChildren(
      margin?.root ?? empty("The margin over one cycle stands here once the walk has been worked out."),
      reach?.root ?? empty("What the leg reaches stands here once it has been worked out."),
    );
  }
}
