// Findings that differ from what lies under the robot: number before, number now.
import { limitMark, WORDS } from "../mark";
import { html } from "../svg";
import type { Store } from "../store";
import type { Found } from "../wire";

/** Findings that are another than before, those whose word changed first. */
export function differing(findings: readonly Found[]): Found[] {
  const other = findings.filter((found) => found.was !== "" && !found.stale);
  const turned = (found: Found): number => (found.was_verdict !== "" && found.was_verdict !== found.verdict ? 0 : 1);
  return other.sort((a, b) => turned(a) - turned(b));
}

/** A table of them; a row opens its finding. */
export function besideTable(store: Store, findings: readonly Found[]): HTMLElement {
  const under = store.edits?.under || "before";
  const rows = findings.map((found) => {
    const name = html("button", { type: "button", class: "pick" }, found.name);
    name.addEventListener("click", () => store.open(found.id));
    const word = (verdict: Found["verdict"] | ""): Node => (verdict === "" ? html("span", {}) : html("span", { class: "sign", title: WORDS[verdict] }, limitMark(verdict, 11), html("span", { class: "away" }, WORDS[verdict])));
    return html("tr", {},
      html("td", {}, name),
      html("td", { class: "n" }, word(found.was_verdict), " ", html("s", {}, found.was)),
      html("td", { class: "n" }, word(found.verdict), " ", html("b", {}, found.shown)),
    );
  });
  const heads = ["finding", under, "now"].map((text, i) => html("th", i > 0 ? { scope: "col", class: "n" } : { scope: "col" }, text));
  return html("table", { class: "edges differs" },
    html("thead", {}, html("tr", {}, ...heads)), html("tbody", {}, ...rows),
  );
}
