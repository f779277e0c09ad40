// Rows of fields under their headings; some open, the rest of the sheet behind its headings.
import { html } from "../svg";
import type { Desk } from "../view";
import type { SheetField } from "../wire";
import { FieldRow } from "./field";

/** Words for the sheet's tables; others are shown as they are. */
const TITLES: Record<string, string> = {
  fit: "servos fitted",
  servo: "servo data",
  load: "electrical loads",
  sheet: "about this sheet",
};

interface Group {
  name: string;
  body: HTMLElement;
  head: HTMLButtonElement;
  rows: FieldRow[];
}

/** A list of fields that follows the store. */
export class FieldList {
  readonly element = html("div", { class: "fields" });
  private groups: Group[] = [];
  private keys = "";
  private wanted = "";
  private readonly opened: Set<string>;
  private readonly off: (() => void)[];

  /**
   * `first`: groups in the order in which they come, open; `wants`: which fields at all.
   */
  constructor(private readonly desk: Desk, private readonly first: readonly string[], private readonly wants: (field: SheetField) => boolean = () => true) {
    this.opened = new Set(first);
    this.off = [
      desk.store.listen(["fields"], () => this.draw()),
      desk.store.listen(["edits"], () => {
        const { edits } = desk.store;
        const after = new Map(edits?.list.map((change) => [change.key, change.after]));
        for (const row of this.rows()) row.heard(after.get(row.key) ?? row.kept, edits?.rev ?? 0);
      }),
      desk.store.listen(["link"], () => {
        if (desk.store.link === "lost") for (const row of this.rows()) row.lost();
      }),
      desk.store.listen(["refused"], () => {
        for (const row of this.rows()) row.refuse(desk.store.refused);
      }),
    ];
    this.draw();
  }

  /** Show only fields whose words hold all that was typed; empty: all. */
  filter(text: string): void {
    this.wanted = text.trim().toLowerCase();
    this.sift();
  }

  /** Let go. */
  dispose(): void {
    for (const each of this.off) each();
  }

  /** Bring a field into sight and put the cursor into it. */
  reveal(key: string): boolean {
    for (const group of this.groups) {
      const row = group.rows.find((each) => each.key === key);
      if (row === undefined) continue;
      this.opened.add(group.name);
      this.sift();
      row.element.scrollIntoView({ block: "center" });
      row.focus();
      return true;
    }
    return false;
  }

  private *rows(): Iterable<FieldRow> {
    for (const group of this.groups) yield* group.rows;
  }

  private draw(): void {
    const fields = this.desk.store.fields.filter(this.wants);
    const keys = fields.map((field) => `${field.key}:${field.choices.length}`).join("|");
    if (keys !== this.keys) {
      this.keys = keys;
      this.build(fields);
    } else {
      const byKey = new Map(fields.map((field) => [field.key, field]));
      for (const row of this.rows()) {
        const field = byKey.get(row.key);
        if (field) row.show(field, this.desk.store.fieldsRev);
      }
    }
    for (const { name, head, rows } of this.groups) {
      const edited = rows.filter((row) => row.edited).length;
      head.replaceChildren(html("span", {}, TITLES[name] ?? name), html("small", {}, edited > 0 ? `${edited} changed` : `${rows.length}`));
    }
  }

  private build(fields: readonly SheetField[]): void {
    const held = document.activeElement instanceof HTMLElement ? document.activeElement.dataset["key"] : undefined;
    const names = [...new Set([...this.first, ...fields.map((field) => field.group)])];
    this.groups = names.flatMap((name) => {
      const own = fields.filter((field) => field.group === name);
      const said = own.filter((field) => field.value !== "");
      const single = said.filter((field) => !field.key.includes("["));
      const listed = said.filter((field) => field.key.includes("[")); // places of hips and the like
      const open = own.filter((field) => field.value === "");
      const rows = [...single, ...listed, ...open].map((field) => new FieldRow(field, this.desk));
      if (rows.length === 0) return [];
      const body = html("div", { class: "group" }, ...rows.map((row) => row.element));
      const head = html("button", { type: "button", class: "heading" });
      head.addEventListener("click", () => {
        if (!this.opened.delete(name)) this.opened.add(name);
        this.sift();
      });
      return [{ name, body, head, rows }];
    });
    this.element.replaceChildren(...this.groups.flatMap(({ head, body }) => [html("h3", {}, head), body]));
    this.sift();
    if (held !== undefined) {
      for (const row of this.rows()) if (row.key === held) row.focus();
    }
  }

  private sift(): void {
    const words = this.wanted.split(/\s+/).filter((word) => word !== "");
    for (const { name, head, body, rows } of this.groups) {
      let shown = 0;
      for (const row of rows) {
        const fits = words.every((word) => row.words.includes(word));
        row.element.hidden = !fits;
        if (fits) shown += 1;
      }
      const open = words.length > 0 ? shown > 0 : this.opened.has(name);
      body.hidden = !open;
      head.parentElement!.hidden = words.length > 0 && shown === 0;
      head.setAttribute("aria-expanded", String(open));
    }
  }
}
