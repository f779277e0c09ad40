// One finding: what is wrong, why, how far, what would cure it.
import { balloon, gauge, limitMark, WORDS } from "../mark";
import { button, html } from "../svg";
import { besideTable, differing } from "./beside";
import type { Desk } from "../view";
import type { Found } from "../wire";

/** The panel over the open question; a single line while no finding is open. */
export function findingPanel(desk: Desk): HTMLElement {
  const { store, link, cursor } = desk;
  const root = html("section", { class: "finding", "aria-label": "Finding" });

  const step = (by: number): void => {
    const all = store.verdict?.findings ?? [];
    const bad = all.filter((found) => found.verdict !== "pass");
    const list = bad.length > 1 ? bad : all;
    if (list.length === 0) return;
    const at = list.findIndex((found) => found.id === store.finding);
    store.open(list[(at + by + list.length) % list.length]?.id ?? "");
  };

  let listed = false;
  const draw = (): void => {
    const found = store.opened;
    const others = found === null ? differing(store.verdict?.findings ?? []) : [];
    listed &&= others.length > 0 || found !== null;
    root.classList.toggle("open", found !== null || listed);
    if (found === null) {
      const toggle = button(`${others.length} ${others.length === 1 ? "differs" : "differ"}`, () => {
        listed = !listed;
        draw();
      }, { class: "differ", "aria-expanded": String(listed), title: `findings that are others than ${store.edits?.under || "before"}` });
      const line = html("div", { class: "first-line" }, ...closed(desk), ...(others.length > 0 ? [toggle] : []));
      root.replaceChildren(line, ...(listed ? [besideTable(store, others)] : []));
      return;
    }
    root.replaceChildren(...open(found, store.verdict !== null && store.verdict.rev >= store.rev && !found.stale, {
      look: () => {
        link.send({ type: "look", finding: found.id });
        if (found.phase !== null) cursor.set(found.phase);
        desk.shell.wantFigure();
        desk.figure.place.scrollIntoView({ block: "nearest" });
      },
      next: () => step(1),
      close: () => store.open(""),
    }));
  };
  store.listen(["finding"], () => {
    const found = store.opened;
    if (found !== null) {
      cursor.run(false);
      link.send({ type: "look", finding: found.id });
      if (found.phase !== null && found.case === store.cycle.now?.header.case) cursor.set(found.phase);
      desk.shell.tell(`${WORDS[found.verdict]}: ${found.name}. ${found.shown}, allowed ${found.bound}. ${found.why} ${found.cure}`);
    }
    draw();
    if (found !== null) root.scrollIntoView({ block: "nearest" }); // where the page scrolls as a whole
  });
  store.listen(["verdict", "edits", "question"], draw);
  draw();
  return root;
}

/** What the verdict says to the open question; where it says nothing to it, what it says at all. */
function closed({ store, shell }: Desk): Node[] {
  const { verdict } = store;
  if (verdict === null) return [html("p", { class: "quiet" }, "Findings stand here once the robot has been checked.")];
  const own = verdict.findings.filter((found) => shell.view?.areas.includes(found.area));
  const list = own.length > 0 ? own : verdict.findings;
  const bad = list.find((found) => found.verdict !== "pass");
  const first = bad ?? nearest(list);
  if (first === undefined) return [html("p", { class: "quiet" }, "Nothing was judged.")];
  const line = html("button", { type: "button", class: "line" },
    bad === undefined ? limitMark("pass", 14) : balloon(first.number, first.verdict, 24),
    html("span", { class: "t" }, bad === undefined ? `all ${list.length} pass, nearest to its limit: ${first.name}` : first.name),
    html("span", { class: "v" }, first.shown),
  );
  line.addEventListener("click", () => store.open(first.id));
  return [line];
}

function open(found: Found, fresh: boolean, acts: { look(): void; next(): void; close(): void }): Node[] {
  const head = html("div", { class: "head" },
    found.number > 0 ? balloon(found.number, found.verdict, 28) : limitMark(found.verdict, 16),
    html("h3", {}, found.name),
    html("span", { class: `word ${found.verdict}` }, WORDS[found.verdict]),
  );
  const parts: Node[] = [head];
  if (!fresh) parts.push(html("p", { class: "quiet" }, "before your change"));
  if (found.why !== "") parts.push(html("p", { class: "why" }, found.why));
  const scale = gauge(found);
  parts.push(scale);
  if (found.was !== "") {
    parts.push(html("p", { class: "was" }, html("small", {}, "before "), html("s", {}, found.was), html("small", {}, " now "), html("b", {}, found.shown)));
  }
  if (found.cure !== "") parts.push(html("p", { class: "cure" }, found.cure));
  if (found.source !== "") parts.push(html("p", { class: "source" }, `source: ${found.assumed ? "assumed; " : ""}${found.source}`));
  parts.push(html("div", { class: "row" },
    button(found.phase === null ? "Show it" : "Worst instant", acts.look, { class: "first" }),
    button("Next", acts.next, { "aria-keyshortcuts": "n" }),
    button("Close", acts.close, { "aria-keyshortcuts": "Escape" }),
  ));
  return parts;
}

/** The pass that has the smallest share of its limit left; one that stands exactly on it says little. */
function nearest(findings: readonly Found[]): Found | undefined {
  const share = ({ margin, limit }: Found): number =>
    margin !== null && limit !== null && margin > 0 && limit !== 0 ? margin / Math.abs(limit) : Infinity;
  return [...findings].sort((a, b) => share(a) - share(b))[0];
}
