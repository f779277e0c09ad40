// Does it stand? The shape, editable in place; what each change does to reach and margin.
import { button, html } from "../svg";
import type { Desk, View } from "../view";
import { FieldRow } from "./field";

const GROUPS = ["dimensions", "stance", "servos"];

/** The first question. */
export class StandView implements View {
  readonly word = "stands";
  readonly question = "Does it stand?";
  private rows: FieldRow[] = [];
  private off: (() => void)[] = [];

  mount(place: HTMLElement, desk: Desk): void {
    const { store, link } = desk;
    const list = html("div", { class: "fields" });
    const undo = button("Undo", () => link.send({ type: "undo" }), { "aria-keyshortcuts": "Control+Z" });
    const redo = button("Redo", () => link.send({ type: "redo" }), { "aria-keyshortcuts": "Control+Shift+Z" });
    const back = button("Put back", () => link.send({ type: "put_back" }));
    place.append(list, html("div", { class: "row" }, undo, redo, back));
    const build = (): void => {
      const fields = store.fields;
      const keys = fields.map((field) => field.key).join();
      if (keys !== this.rows.map((row) => row.key).join()) {
        this.rows = fields.map((field) => new FieldRow(field, desk));
        let group = "";
        list.replaceChildren();
        for (const [i, field] of fields.entries()) {
          if (field.group !== group) {
            group = field.group;
            list.append(html("h3", {}, group));
          }
          const row = this.rows[i];
          if (row) list.append(row.element);
        }
      }
      for (const [i, field] of fields.entries()) this.rows[i]?.show(field);
      undo.disabled = !store.edits?.undo;
      redo.disabled = !store.edits?.redo;
      back.disabled = !store.edits?.list.length;
    };
    this.off.push(store.listen(["fields", "edits"], build));
    this.off.push(store.listen(["refused"], () => {
      for (const row of this.rows) row.refuse(store.refused);
    }));
    build();
    void GROUPS;
  }

  unmount(): void {
    for (const each of this.off) each();
    this.off = [];
    this.rows = [];
  }
}
