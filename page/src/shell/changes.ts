// What was changed, what lies under it, and what becomes of it: undo, redo, put back, keep.
import { limitMark } from "../mark";
import { button, html } from "../svg";
import type { Desk } from "../view";

/** A bar under every question; the only place from which anything is written to disk. */
export function changesBar(desk: Desk): HTMLElement {
  const { link, store, shell } = desk;
  const root = html("section", { class: "changes", "aria-label": "Changes" });
  const what = html("p", { class: "what" });
  const said = html("p", { class: "said" });
  const undo = button("Undo", () => link.send({ type: "undo" }), { "aria-keyshortcuts": "Control+Z" });
  const redo = button("Redo", () => link.send({ type: "redo" }), { "aria-keyshortcuts": "Control+Shift+Z" });
  const back = button("Put back", () => link.send({ type: "put_back" }));
  const keep = button("Keep…", () => open(name.hidden !== false), { "aria-expanded": "false" });
  const name = html("input", {
    type: "text", "aria-label": "Name of the variant, a new folder", placeholder: "name of the variant", autocomplete: "off", spellcheck: "false", hidden: "",
  });
  const write = button("Keep as variant", () => ask(), { class: "first", hidden: "" });
  const beside = html("select", { "aria-label": "Lay another variant under it", class: "beside" });
  let asked = 0, laid = 0, told = "";

  beside.addEventListener("change", () => {
    said.textContent = "";
    laid = link.send({ type: "compare", variant: beside.value });
  });
  const drawBeside = (): void => {
    const { welcome, edits } = store;
    const others = welcome?.variants ?? [];
    beside.hidden = others.length === 0;
    const none = (edits?.list.length ?? 0) > 0 ? "beside disk" : "beside none";
    const key = [none, ...others].join("|");
    if (beside.dataset["of"] !== key) beside.replaceChildren(html("option", { value: "" }, none), ...others.map((name) => html("option", { value: name }, `beside ${name}`)));
    beside.dataset["of"] = key; // a list that hangs open is not torn down for nothing
    beside.value = welcome?.compared ?? "";
  };

  const open = (on: boolean): void => {
    name.hidden = write.hidden = !on;
    keep.setAttribute("aria-expanded", String(on));
    said.textContent = "";
    name.removeAttribute("aria-invalid");
    if (on) name.focus();
  };
  const ask = (): void => {
    said.textContent = "";
    name.removeAttribute("aria-invalid");
    asked = link.send({ type: "keep", name: name.value.trim() });
  };
  name.addEventListener("keydown", (event) => {
    if (event.key === "Enter") ask();
    if (event.key === "Escape") {
      event.stopPropagation();
      open(false);
      keep.focus();
    }
  });

  const say = (text: string, wrong: boolean): void => {
    said.classList.toggle("wrong", wrong);
    said.replaceChildren(...(wrong ? [limitMark("fail", 11)] : []), text);
  };
  const draw = (): void => {
    const { edits, welcome } = store;
    const list = edits?.list ?? [];
    undo.disabled = !edits?.undo;
    redo.disabled = !edits?.redo;
    undo.title = edits?.undo ? `takes back: ${edits.undo}` : "nothing to take back";
    redo.title = edits?.redo ? `does again: ${edits.redo}` : "nothing was taken back";
    back.hidden = keep.hidden = list.length === 0;
    root.classList.toggle("some", list.length > 0);
    if (list.length === 0 && !name.hidden) open(false);
    drawBeside();
    const folder = welcome?.folder ?? "the folder";
    if (edits?.kept) {
      what.textContent = `Kept as ${edits.kept}, beside ${folder}.`;
    } else if (list.length === 0) {
      what.textContent = `As on disk in ${folder}.`;
    } else {
      const last = list[list.length - 1];
      what.replaceChildren(
        html("b", {}, `${list.length} ${list.length === 1 ? "change" : "changes"}`), " not kept; ",
        html("span", {}, wordsOf(last?.key ?? "")), " ", html("s", {}, last?.before || "not said"), " ", html("b", { class: "set" }, last?.after || "not said"),
      );
    }
    if (edits?.read) say(edits.read, edits.unread);
    else if (told !== "") say("", false);
    told = edits?.read ?? "";
    what.title = list.map(({ key, before, after }) => `${key}: ${before || "not said"}, now ${after || "not said"}`).join("\n");
    if (edits?.kept && asked !== 0) {
      asked = 0;
      open(false);
      shell.tell(`Kept as ${edits.kept}`);
    }
  };
  store.listen(["edits", "welcome"], draw);
  store.listen(["refused"], () => {
    const n = store.refused?.n ?? 0;
    if (store.refused === null || n === 0 || (n !== asked && n !== laid)) return;
    if (n === asked) name.setAttribute("aria-invalid", "true");
    else drawBeside();
    asked = laid = 0;
    say(store.refused.text, true);
  });
  draw();
  root.append(html("div", { class: "row" }, what, beside, undo, redo, back, keep), html("div", { class: "row keep" }, name, write), said);
  return root;
}

/** The end of a key in words. */
function wordsOf(key: string): string {
  return (key.split(".").pop() ?? key).replaceAll("_", " ");
}
