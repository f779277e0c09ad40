// The title block, fields after ISO 7200; with "made from" and "how numbers are set".
import { html } from "../svg";
import type { Desk } from "../view";

const DAY = new Intl.DateTimeFormat("sv-SE"); // ISO 8601 dates

/** Fields of the drawing, in the lower right. */
export function titleBlock({ store }: Desk): HTMLElement {
  const root = html("dl", { class: "title-block" });
  const draw = (): void => {
    const { welcome, edits, cycle } = store;
    const edited = edits?.list.length ?? 0;
    const shown = cycle.now?.header;
    root.replaceChildren(
      field("title", "title", html("b", {}, welcome?.robot ?? "—"), " ", html("span", {}, shown ? shown.case || `${shown.gait}, asked here` : "")),
      field("legal owner", "owner", welcome?.owner || "not said"),
      field("identification", "id", welcome?.identification || welcome?.folder || "—"),
      field("rev.", "rev", welcome?.revision || "—"),
      field("made from", "made", `${welcome?.folder ?? "—"}/${welcome?.file ?? "—"}${edited > 0 ? `, ${edited} ${edited === 1 ? "change" : "changes"}` : ""}`),
      field("document type", "type", "working sheet"),
      field("created by", "by", "legwright"),
      field("approved by", "approved", "not signed"),
      field("date", "date", DAY.format(new Date())),
      field("units", "units", "mm unless written"),
      field("how numbers are set", "how", "7.1 worked out\u2002(0.50) assumed\u2002", html("span", { class: "set" }, "20"), " set by you"),
    );
  };
  store.listen(["welcome", "edits", "cycle"], draw);
  draw();
  return root;
}

function field(label: string, name: string, ...value: (Node | string)[]): HTMLElement {
  return html("div", { class: `f-${name}` }, html("dt", {}, label), html("dd", {}, ...value));
}
