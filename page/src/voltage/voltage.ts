// Does it keep its voltage? The drawings of the wiring, alive at the cursor's phase, and what a
// thicker wire would do.
import { heads, jointWords } from "../carry/edges";
import { Words } from "../cursor";
import { KELVIN } from "../carry/quantities";
import { limitMark } from "../mark";
import { figures, number, withUnit } from "../numbers";
import { sentence } from "../sentences";
import { FieldRow } from "../fields/field";
import { button, html } from "../svg";
import type { Desk, View } from "../view";
import { Paper } from "./paper";
import { reading } from "./part_line";

const ROWS = 8;

/** The third question. */
export class VoltageView implements View {
  readonly word = "supply";
  readonly question = "Does it keep its voltage?";
  readonly areas: readonly string[] = ["supply", "wiring", "bus", "energy", "plates", "brackets", "shell"];
  private desk: Desk | null = null;
  private readonly words = new Words();
  private off: (() => void)[] = [];
  private drawing = "";
  /** The part that is looked at, and whether it was chosen to stay. */
  private part = "";
  private held = false;
  private row: FieldRow | null = null;
  private readonly names = html("select", { id: "drawing-choice" });
  private readonly line = html("div", { class: "part-line", "aria-live": "polite" });
  private readonly change = html("div", { class: "fields" });
  private readonly tables = html("div", { class: "side" });
  private readonly paper = new Paper((part, chosen) => this.point(part, chosen));
  private readonly choice = html("div", { class: "walk-row" }, html("label", { class: "quiet", for: "drawing-choice" }, "Drawing "), this.names, this.paper.zooms);
  private readonly stage = html("div", { class: "drawing" }, this.choice, this.paper.element);
  /** Whether the drawing has the figure's place. */
  private drawn = true;
  private readonly places = (["drawing", "robot"] as const).map((word) => button(word, () => this.place(word === "drawing")));

  mount(place: HTMLElement, desk: Desk): void {
    this.desk = desk;
    this.names.onchange = () => {
      this.drawing = this.names.value;
      this.drawNames();
    };
    place.append(this.line, this.change, this.tables);
    desk.shell.tools.append(html("div", { class: "aspects", role: "group", "aria-label": "Beside the question" }, ...this.places));
    this.place(this.drawn);
    this.off.push(
      desk.store.listen(["drawings"], () => {
        this.drawNames();
        if (desk.store.circuit.now === null) this.drawCircuit();
      }),
      desk.store.listen(["circuit"], () => this.drawCircuit()),
      desk.store.listen(["fields"], () => this.drawChange()),
      desk.store.listen(["edits"], () => this.heard()),
      desk.store.listen(["refused"], () => this.row?.refuse(desk.store.refused)),
      desk.store.listen(["finding", "verdict"], () => this.lightFinding()),
    );
    this.drawNames();
    this.drawCircuit();
    this.lightFinding();
  }

  unmount(): void {
    this.desk?.shell.setStage(null);
    for (const each of this.off) each();
    this.off = [];
    this.desk = null;
    this.row = null;
  }

  /** The robot where nothing of a finding is on the drawing. */
  onFigureWanted(): void {
    if (this.partsOf().length === 0) this.place(false);
  }

  private place(drawn: boolean): void {
    this.drawn = drawn;
    this.places.forEach((each, i) => each.setAttribute("aria-pressed", String(drawn === (i === 0))));
    this.desk?.shell.setStage(drawn ? this.stage : null);
  }

  onCursor(): void {
    if (this.desk !== null && this.words.due(this.desk.cursor)) this.drawLine();
  }

  private drawNames(): void {
    const desk = this.desk;
    if (desk === null) return;
    const drawings = desk.store.drawings;
    const list = drawings?.list ?? [];
    this.choice.hidden = list.length === 0;
    if (list.length === 0) {
      this.paper.empty(drawings?.missing || "The drawings are being made.");
      return;
    }
    if (!list.some((each) => each.name === this.drawing)) this.drawing = list[0]?.name ?? "";
    const key = list.map(({ name, title }) => `${name}:${title}`).join("|");
    if (this.names.dataset["of"] !== key) {
      this.names.dataset["of"] = key; // a list that hangs open is not torn down for nothing
      this.names.replaceChildren(...list.map(({ name, title }) => html("option", { value: name }, title)));
    }
    this.names.value = this.drawing;
    const shown = list.find((each) => each.name === this.drawing);
    const rev = drawings?.rev ?? 0;
    void this.paper.show(`/drawing/${encodeURIComponent(this.drawing)}.svg?rev=${rev}&theme=bare`, shown?.title ?? "");
  }

  private point(part: string, chosen: boolean): void {
    if (this.held && !chosen) return;
    this.held = chosen && !(this.held && part === this.part);
    if (part === this.part && !chosen) return;
    this.part = part;
    this.paper.light([part]);
    this.drawLine();
    if (chosen) this.drawChange();
  }

  /** What the circuit has of the open finding's parts. */
  private partsOf(): string[] {
    const parts = this.desk?.store.opened?.parts ?? [];
    const circuit = this.desk?.store.circuit.now;
    const known = parts.filter((part) => circuit?.header.wires.some((w) => w.part === part) || circuit?.header.consumers.some((c) => c.part === part));
    const joints = (circuit?.header.consumers ?? []).filter((c) => parts.includes(c.name)).map((c) => c.part);
    return [...known, ...joints];
  }

  private lightFinding(): void {
    const all = this.partsOf();
    if (all.length === 0) return;
    this.part = all[0] ?? "";
    this.held = true;
    this.paper.light(all);
    this.drawLine();
    this.drawChange();
  }

  private drawLine(): void {
    const circuit = this.desk?.store.circuit.now;
    this.line.hidden = circuit === null || circuit === undefined;
    if (circuit === null || circuit === undefined) return;
    const found = this.part === "" ? null : reading(circuit, this.part, this.desk?.cursor.phase ?? 0);
    if (found === null) {
      this.line.replaceChildren(html("span", { class: "quiet" }, "Point at a wire or a part; click to keep it."));
      return;
    }
    this.line.replaceChildren(
      html("b", {}, found.part), html("span", {}, this.spoken(found.name)),
      ...found.facts.map((fact) => html("span", { class: "fact" }, html("small", {}, fact.word), html("b", fact.past ? { class: "past" } : {}, fact.value))),
    );
  }

  /** The gauge of the chosen wire, where the sheet states one. */
  private drawChange(): void {
    const desk = this.desk;
    if (desk === null) return;
    const wire = desk.store.circuit.now?.header.wires.find((each) => each.part === this.part);
    const field = wire === undefined ? undefined : desk.store.fields.find((each) => each.key === wire.key);
    if (field === undefined) {
      this.row = null;
      this.change.replaceChildren();
      return;
    }
    if (this.row?.key === field.key) return this.row.show(field, desk.store.fieldsRev);
    this.row = new FieldRow(field, desk);
    this.change.replaceChildren(this.row.element);
  }

  private heard(): void {
    const { row } = this, edits = this.desk?.store.edits;
    if (row && edits) row.heard(edits.list.find((change) => change.key === row.key)?.after ?? row.kept, edits.rev);
  }

  private drawCircuit(): void {
    const circuit = this.desk?.store.circuit.now;
    if (circuit === null || circuit === undefined) {
      const missing = this.desk?.store.drawings?.missing ?? "";
      this.tables.replaceChildren(html("p", { class: "say" }, missing === "" ? "The circuit is being worked out." : sentence(missing)));
      this.drawLine();
      return;
    }
    const { header } = circuit;
    const sum = html("p", { class: "say" });
    sum.textContent = header.brown_out
      ? "The voltage breaks down: there is no steady state in this walk."
      : `Walking ${header.case || "your own walk"}, the battery at ${withUnit(number(header.charge * 100, 0), "%")} gives ${header.power === null ? "an unknown power" : withUnit(figures(header.power), "W")} on average.`;
    this.tables.replaceChildren(sum, this.lowest(), this.warmest());
    this.drawLine();
    this.drawChange();
  }

  private spoken(name: string): string {
    return jointWords(name, this.desk?.store.welcome?.short ?? {});
  }

  private lowest(): HTMLElement {
    const circuit = this.desk?.store.circuit;
    const before = new Map((circuit?.before?.header.consumers ?? []).map((each) => [each.part, each.lowest]));
    const rows = [...(circuit?.now?.header.consumers ?? [])]
      .filter((each) => each.lowest !== null)
      .sort((a, b) => (a.lowest ?? 0) - (a.least ?? 0) - ((b.lowest ?? 0) - (b.least ?? 0)))
      .slice(0, ROWS);
    return this.table("What arrives, at its lowest", ["part", "of", ["arrives"], ["works down to"]], rows.map((each) => {
      const past = each.least !== null && each.lowest !== null && each.lowest < each.least;
      return this.line_(each.part, this.spoken(each.name), each.least === null ? "unknown" : past ? "fail" : "pass",
        withWas(withUnit(figures(each.lowest, 4), "V"), before.get(each.part), each.lowest, "V", 4), each.least === null ? "" : withUnit(figures(each.least, 3), "V"), past);
    }));
  }

  private warmest(): HTMLElement {
    const circuit = this.desk?.store.circuit;
    const before = new Map((circuit?.before?.header.wires ?? []).map((each) => [each.part, each.temperature]));
    const rows = [...(circuit?.now?.header.wires ?? [])]
      .filter((each) => each.temperature !== null)
      .sort((a, b) => (b.temperature ?? 0) - (a.temperature ?? 0))
      .slice(0, ROWS);
    return this.table("The warmest, walking like this for ever", ["part", "what it is", ["settles at"], ["bears"]], rows.map((each) => {
      const past = each.highest !== null && (each.temperature ?? 0) > each.highest;
      const was = before.get(each.part);
      return this.line_(each.part, [each.size, each.name].filter((w) => w !== "").join(", "), each.highest === null ? "unknown" : past ? "fail" : "pass",
        withWas(withUnit(number((each.temperature ?? 0) - KELVIN, 0), "°C"), was === null || was === undefined ? null : was - KELVIN, (each.temperature ?? 0) - KELVIN, "°C", 3),
        each.highest === null ? "" : withUnit(number(each.highest - KELVIN, 0), "°C"), past);
    }));
  }

  private table(caption: string, words: readonly (string | readonly [string])[], rows: readonly HTMLElement[]): HTMLElement {
    return html("table", { class: "edges parts" }, html("caption", {}, caption),
      html("thead", {}, heads(...words)),
      html("tbody", {}, ...rows));
  }

  private line_(part: string, name: string, verdict: "pass" | "fail" | "unknown", value: (Node | string)[], limit: string, past: boolean): HTMLElement {
    const mark = html("td", {});
    mark.append(limitMark(verdict, 12));
    const pick = button(part, () => this.point(part, true), { class: "pick" });
    return html("tr", {}, mark, html("td", {}, pick), html("td", { class: "quiet" }, name),
      html("td", { class: past ? "n past" : "n" }, ...value), html("td", { class: "n" }, limit));
  }
}

function withWas(text: string, was: number | null | undefined, now: number | null, unit: string, digits: number): (Node | string)[] {
  const changed = was !== null && was !== undefined && now !== null && figures(was, digits) !== figures(now, digits);
  return changed ? [html("s", {}, withUnit(figures(was, digits), unit)), " ", html("b", {}, text)] : [html("b", {}, text)];
}
