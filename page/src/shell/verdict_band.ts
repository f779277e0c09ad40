// The top band: the stamp in words, one row of limit marks an area, when it was checked.
import { limitMark, WORDS } from "../mark";
import { html } from "../svg";
import type { Desk } from "../view";
import type { Area, Found } from "../wire";

const DAYTIME = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", second: "2-digit" });

/** Drawn anew with each verdict. */
export function verdictBand({ store, shell }: Desk): HTMLElement {
  const stamp = html("button", { type: "button", class: "stamp unknown" });
  const areas = html("div", { class: "areas", role: "group", "aria-label": "Findings by area" });
  const checked = html("div", { class: "checked" });
  const progress = html("div", { class: "progress", hidden: "" });
  const root = html("div", { class: "verdict-band" }, stamp, areas, checked, progress);
  let checkedAt = "";
  let slow = 0;

  stamp.addEventListener("click", () => {
    const worst = store.verdict?.findings.find((found) => found.verdict !== "pass");
    store.open(worst === undefined || store.finding === worst.id ? "" : worst.id);
  });

  const drawStamp = (): void => {
    const { verdict } = store;
    if (verdict === null) {
      stamp.className = "stamp unknown";
      stamp.replaceChildren(limitMark("unknown", 26), html("span", { class: "words" }, html("b", {}, "NOT CHECKED YET"), html("small", {}, "the first verdict is on its way")));
      return;
    }
    stamp.className = `stamp ${verdict.overall}${store.fresh ? "" : " stale"}`;
    stamp.replaceChildren(
      limitMark(verdict.overall, 26),
      html("span", { class: "words" }, html("b", {}, verdict.stamp), html("small", {}, counted(verdict.counts)), html("span", { class: "away" }, "Open the worst finding.")),
    );
  };

  const drawAreas = (): void => {
    const { verdict } = store;
    if (verdict === null) return;
    const byId = new Map(verdict.findings.map((found) => [found.id, found]));
    const held = document.activeElement instanceof HTMLElement ? document.activeElement.dataset["id"] : undefined;
    areas.replaceChildren(...verdict.areas.map((area) => areaRow(area, byId, store.finding, (id) => {
      store.open(store.finding === id ? "" : id);
    })));
    if (held !== undefined) areas.querySelector<HTMLElement>(`[data-id="${CSS.escape(held)}"]`)?.focus();
  };

  const drawChecked = (): void => {
    const { verdict, checking, welcome } = store;
    const revision = `rev. ${welcome?.revision ?? "—"}${store.edits?.list.length ? ", edited" : ""}`;
    const now = store.fresh || verdict === null
      ? (verdict === null ? "—" : checkedAt)
      : checking === null ? "checking" : `checking ${checking.done} of ${checking.of}`;
    checked.replaceChildren(
      html("small", {}, store.fresh || verdict === null ? "checked" : "before your change"),
      html("span", {}, `${now}\u2002${revision}`),
    );
    const waits = checking !== null || (verdict !== null && !store.fresh);
    if (!waits) {
      clearTimeout(slow);
      slow = 0;
      progress.hidden = true;
    } else if (slow === 0) {
      slow = window.setTimeout(() => (progress.hidden = false), 1000);
    }
    progress.style.setProperty("--share", String(checking === null || checking.of === 0 ? 0.05 : checking.done / checking.of));
  };

  const draw = (): void => {
    drawStamp();
    drawAreas();
    drawChecked();
  };
  store.listen(["verdict"], () => {
    checkedAt = DAYTIME.format(new Date());
    draw();
  });
  store.listen(["edits", "checking", "welcome", "shape"], () => {
    drawStamp();
    drawChecked();
  });
  store.listen(["finding"], drawAreas);
  arrowKeys(areas);
  draw();
  void shell;
  return root;
}

/** "3 fail 4 near 2 not known of 42" */
export function counted(counts: Record<string, number>): string {
  const all = Object.values(counts).reduce((sum, n) => sum + n, 0);
  const said = [
    [counts["fail"] ?? 0, "fail"],
    [counts["warn"] ?? 0, "near"],
    [counts["unknown"] ?? 0, "not known"],
  ].filter(([n]) => n !== 0).map(([n, word]) => `${n}\u202f${word}`);
  return said.length === 0 ? `all ${all} pass` : `${said.join("\u2002")}\u2002of\u202f${all}`;
}

/** By verdict: how many have a mark each, more share one; and the words for that one. */
const SHOWN: readonly (readonly [Found["verdict"], number, readonly [string, string]])[] = [
  ["fail", 2, ["fail in", "The worst"]],
  ["warn", 2, ["are near their limit in", "The nearest"]],
  ["unknown", 0, ["not known in", "The first"]],
  ["pass", 0, ["pass in", "The nearest to its limit"]],
];

function areaRow(area: Area, byId: Map<string, Found>, open: string, act: (id: string) => void): HTMLElement {
  const row = html("div", { class: "marks" });
  const groups: Record<Found["verdict"], Found[]> = { fail: [], warn: [], unknown: [], pass: [] };
  for (const id of area.findings) {
    const found = byId.get(id);
    if (found === undefined) continue;
    if (found.id === open) row.append(markButton(found, true, act));
    else groups[found.verdict].push(found);
  }
  for (const [verdict, most, words] of SHOWN) {
    const alike = groups[verdict], [first] = alike;
    if (first === undefined) continue;
    if (alike.length <= most) {
      row.append(...alike.map((found) => markButton(found, false, act)));
      continue;
    }
    const all = markButton(first, false, act);
    all.append(html("span", { class: "count" }, String(alike.length)));
    all.setAttribute("aria-label", `${alike.length} ${words[0]} ${area.title}. ${words[1]}: ${first.name}`);
    row.append(all);
  }
  return html("div", { class: `area ${area.verdict}` }, html("small", { class: "name" }, area.title), row);
}

function markButton(found: Found, open: boolean, act: (id: string) => void): HTMLButtonElement {
  const element = html("button", {
    type: "button", class: `mark-button ${found.verdict}`, "data-id": found.id, tabindex: "-1",
    "aria-pressed": String(open), "aria-label": `${WORDS[found.verdict]}: ${found.name}, ${found.shown}, allowed ${found.bound}`,
    title: `${found.name}: ${found.shown}`,
  }, limitMark(found.verdict, 11));
  element.addEventListener("click", () => act(found.id));
  return element;
}

/** One stop for Tab; arrows go from mark to mark. */
function arrowKeys(areas: HTMLElement): void {
  const marks = (): HTMLElement[] => [...areas.querySelectorAll<HTMLElement>("button")];
  const rove = (): void => {
    const all = marks();
    const current = all.find((mark) => mark === document.activeElement) ?? all[0];
    for (const mark of all) mark.tabIndex = mark === current ? 0 : -1;
  };
  new MutationObserver(rove).observe(areas, { childList: true });
  areas.addEventListener("focusin", rove);
  areas.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    const all = marks();
    const at = all.findIndex((mark) => mark === document.activeElement);
    all[(at + step + all.length) % all.length]?.focus();
  });
}
