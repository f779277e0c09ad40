// How far it goes: the edges of the envelope, and how warm each joint gets.
import { asWritten, figures, number, withUnit } from "../numbers";
import { limitMark } from "../mark";
import type { Kept } from "../store";
import { html } from "../svg";
import type { Cycle, Edge } from "../wire";
import { KELVIN } from "./quantities";

/** A table of edges: what is asked, how far it goes, what stops it. */
export function edgeTable(edges: readonly Edge[]): HTMLElement {
  const table = html("table", { class: "edges" },
    html("caption", {}, "How far it goes"),
    html("thead", {}, heads("edge", ["asked"], ["goes to"], "stopped by")),
  );
  const body = html("tbody", {});
  for (const edge of edges) {
    const short = edge.required !== null && edge.value !== null && edge.value < edge.required;
    const mark = html("td", {});
    mark.append(limitMark(edge.value === null ? "unknown" : short ? "fail" : "pass", 12));
    const value = html("td", { class: "n" });
    if (edge.was !== null && edge.value !== null && figures(edge.was) !== figures(edge.value)) {
      value.append(html("s", {}, figures(edge.was)), " ");
    }
    value.append(html("b", short ? { class: "past" } : {}, withUnit(figures(edge.value), edge.unit)));
    const asked = edge.required === null ? "" : withUnit(asWritten(edge.required), edge.unit);
    const name = edge.gait === "" || edge.name.startsWith(edge.gait) ? edge.name : `${edge.gait}, ${edge.name}`;
    body.append(html("tr", {}, mark, html("td", {}, name), html("td", { class: "n" }, asked), value, html("td", { class: "quiet" }, edge.stopped_by)));
  }
  table.append(body);
  return table;
}

/** Where windings settle in this walk, joint by joint. */
export function warmthTable(cycle: Kept<Cycle>, short: Record<string, string>): HTMLElement {
  const { header, arrays } = cycle;
  const table = html("table", { class: "edges" },
    html("caption", {}, "How warm it gets, walking like this for ever"),
    html("thead", {}, heads("joint", ["settles at"], ["allowed"], ["reaches that after"])),
  );
  const body = html("tbody", {});
  const order = header.joints.map((_, j) => j).sort((a, b) => gap(cycle, a) - gap(cycle, b));
  for (const j of order.slice(0, 6)) {
    const settles = arrays["winding"]?.[j] ?? NaN, most = header.limits.winding[j] ?? null;
    const minutes = arrays["minutes"]?.[j] ?? NaN;
    const past = most !== null && settles > most;
    const mark = html("td", {});
    mark.append(limitMark(!Number.isFinite(settles) || most === null ? "unknown" : past ? "fail" : "pass", 12));
    body.append(html("tr", {}, mark,
      html("td", {}, spoken(header, short, j)),
      html("td", { class: "n" }, html("b", past ? { class: "past" } : {}, withUnit(number(settles - KELVIN, 0), "°C"))),
      html("td", { class: "n" }, most === null ? "" : withUnit(number(most - KELVIN, 0), "°C")),
      html("td", { class: "n" }, Number.isFinite(minutes) ? withUnit(number(minutes, 0), "min") : past ? "" : "never"),
    ));
  }
  table.append(body);
  return table;
}

/** ``L1 femur`` */
export function spoken(header: Cycle, short: Record<string, string>, j: number): string {
  return jointWords(header.joints[j] ?? "", short);
}

/** A joint's name in words, its leg by its short name; other names as they are. */
export function jointWords(joint: string, short: Record<string, string>): string {
  for (const [leg, name] of Object.entries(short)) {
    const plain = leg.replaceAll("-", "_");
    if (joint.startsWith(`${plain}_`)) return `${name} ${joint.slice(plain.length + 1)}`;
  }
  return joint;
}

function gap(cycle: Kept<Cycle>, j: number): number {
  const settles = cycle.arrays["winding"]?.[j] ?? NaN, most = cycle.header.limits.winding[j];
  return Number.isFinite(settles) && most !== null && most !== undefined ? most - settles : 1e9;
}

/** The row over a table, the limit mark first; heads of numbers, in brackets, stand over their ends. */
export function heads(...words: readonly (string | readonly [string])[]): HTMLElement {
  return html("tr", {},
    html("th", { scope: "col" }, html("span", { class: "away" }, "verdict")),
    ...words.map((word) => (typeof word === "string" ? html("th", { scope: "col" }, word) : html("th", { scope: "col", class: "n" }, word[0]))),
  );
}
