// What was changed and what becomes of it: undo, redo, put back, keep as a variant.
import { limitMark } from "../mark";
import { button, html } from "../svg";
import type { Desk } from "../view";

/** A bar under the fields; the only place from which anything is written to disk. */
export class KeepBar {
  readonly element: HTMLElement;
  private readonly changes = html("div", { class: "changes" });
  private readonly name = html("input", { type: "text", id: "variant-name", autocomplete: "off", spellcheck: "false", placeholder: "name of a new folder" });
  private readonly said = html("p", { class: "quiet", role: "status" });
  private readonly undo: HTMLButtonElement;
  private readonly redo: HTMLButtonElement;
  private readonly back: HTMLButtonElement;
  private readonly keep: HTMLButtonElement;
  private readonly off: (() => void)[];
  private asked = 0;

  constructor(private readonly desk: Desk) {
    const { link, store } = desk;
    this.undo = button("Undo", () => link.send({ type: "undo" }), { "aria-keyshortcuts": "Control+Z" });
    this.redo = button("Redo", () => link.send({ type: "redo" }), { "aria-keyshortcuts": "Control+Shift+Z" });
    this.back = button("Put back", () => link.send({ type: "put_back" }), { title: "back to what is on disk" });
    this.keep = button("Keep as variant", () => this.ask(), { class: "first" });
    this.name.addEventListener("keydown", (event) => {
      if (event.key === "Enter") this.ask();
    });
    this.element = html("section", { class: "keeping", "aria-label": "Changes" },
      this.changes,
      html("div", { class: "row" }, this.undo, this.redo, this.back),
      html("div", { class: "row keep" }, html("label", { for: "variant-name", class: "away" }, "Name of the variant"), this.name, this.keep),
      this.said,
    );
    this.off = [
      store.listen(["edits", "welcome"], () => this.draw()),
      store.listen(["refused"], () => {
        if (store.refused === null || store.refused.n !== this.asked || this.asked === 0) return;
        this.asked = 0;
        this.name.setAttribute("aria-invalid", "true");
        this.said.replaceChildren(limitMark("fail", 11), ` ${store.refused.text}`);
        this.said.className = "wrong";
      }),
    ];
    this.draw();
  }

  /** Let go. */
  dispose(): void {
    for (const each of this.off) each();
  }

  private ask(): void {
    this.clear();
    this.asked = this.desk.link.send({ type: "keep", name: this.name.value.trim() });
  }

  private clear(): void {
    this.name.removeAttribute("aria-invalid");
    this.said.className = "quiet";
    this.said.textContent = "";
  }

  private draw(): void {
    const { edits, welcome } = this.desk.store;
    const list = edits?.list ?? [];
    this.undo.disabled = !edits?.undo;
    this.redo.disabled = !edits?.redo;
    this.undo.title = edits?.undo ? `takes back: ${edits.undo}` : "nothing to take back";
    this.redo.title = edits?.redo ? `does again: ${edits.redo}` : "nothing was taken back";
    this.back.disabled = list.length === 0;
    this.keep.disabled = list.length === 0;
    this.name.disabled = list.length === 0;
    this.changes.replaceChildren(...(list.length === 0
      ? [html("p", { class: "quiet" }, `As on disk in ${welcome?.folder ?? "the folder"}. Changes stay here until they are kept.`)]
      : list.slice(-4).map(({ key, before, after }) => html("p", {},
        html("small", {}, `${key} `), html("s", {}, before || "not said"), " ", html("b", {}, after || "not said")))));
    if (list.length > 4) this.changes.prepend(html("p", { class: "quiet" }, `${list.length - 4} more`));
    if (edits?.kept) {
      this.clear();
      this.asked = 0;
      this.said.textContent = `Kept as ${edits.kept}, beside ${welcome?.folder ?? "the robot"}.`;
    }
  }
}
