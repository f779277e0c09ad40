// Health of every joint at a glance: heat, current, supply, error, as limit marks in body order.
import { limitMark, WORDS } from "../mark";
import type { Word } from "../mark";
import { number } from "../numbers";
import { html } from "../svg";
import type { Card, RobotLimits, State } from "./robot_wire";

const CELSIUS = 273.15;
const WARM = 15; // K under the limit: the robot warns; see docs/faults.md
const NEAR = 0.8; // share of the allowed current
const LOW = 1.03; // of the lowest voltage
const SIDE = 10;

interface Reading {
  word: Word;
  text: string;
}

const heat = (value: number | null | undefined, most: number | null | undefined): Reading => {
  const text = value === null || value === undefined ? "—" : number(value - CELSIUS, 0);
  if (typeof value !== "number" || typeof most !== "number") return { word: "unknown", text };
  return { word: value > most ? "fail" : value > most - WARM ? "warn" : "pass", text };
};
const load = (value: number | null | undefined, most: number | null | undefined): Reading => {
  const text = typeof value !== "number" ? "—" : number(Math.abs(value), 1);
  if (typeof value !== "number" || typeof most !== "number") return { word: "unknown", text };
  const size = Math.abs(value);
  return { word: size > most ? "fail" : size > NEAR * most ? "warn" : "pass", text };
};
const supply = (value: number | null | undefined, least: number | null | undefined): Reading => {
  const text = typeof value !== "number" ? "—" : number(value, 1);
  if (typeof value !== "number" || typeof least !== "number") return { word: "unknown", text };
  return { word: value < least ? "fail" : value < LOW * least ? "warn" : "pass", text };
};
const error = (code: number | undefined): Reading =>
  code === undefined ? { word: "unknown", text: "—" }
  : code === 0 ? { word: "pass", text: "0" }
  : { word: "fail", text: code.toString(16).toUpperCase().padStart(4, "0") };

const ROWS: readonly [string, string, (state: State, limits: RobotLimits | null, joint: number) => Reading][] = [
  ["heat", "°C", (state, limits, j) => heat(state.winding?.[j], limits?.winding[j])],
  ["current", "A", (state, limits, j) => load(state.current?.[j], limits?.current[j])],
  ["supply", "V", (state, limits, j) => supply(state.volts?.[j], limits?.volts[j])],
  ["error", "code", (state, _, j) => error(state.errors?.[j])],
];
const WORST: readonly Word[] = ["fail", "unknown", "warn", "pass"];

interface Cell {
  element: HTMLElement;
  joint: number;
  row: number;
  was: string;
}

/** A small table for each leg, placed as the legs are. */
export class Health {
  readonly element = html("div", { class: "health" });
  readonly summary = html("p", { class: "say", "aria-live": "polite" });
  private cells: Cell[] = [];
  private card: Card | null = null;

  /** Show a state; `sides` tells which legs are on the left. */
  show(card: Card | null, state: State | null, short: Record<string, string>): void {
    if (card === null || state === null) {
      this.element.replaceChildren();
      this.summary.textContent = "";
      this.card = null;
      return;
    }
    if (card !== this.card) this.build(card, short);
    const limits = card.limits ?? null;
    const worst = new Map<Word, number>();
    for (const cell of this.cells) {
      const read = ROWS[cell.row]?.[2];
      if (!read) continue;
      const { word, text } = read(state, limits, cell.joint);
      worst.set(word, (worst.get(word) ?? 0) + 1);
      const key = `${word}${text}`;
      if (cell.was === key) continue;
      cell.was = key;
      cell.element.className = word;
      cell.element.replaceChildren(limitMark(word, SIDE), html("span", {}, text), html("span", { class: "away" }, ` ${WORDS[word]}`));
    }
    const words = WORST.filter((word) => word !== "pass" && worst.has(word)).map((word) => `${worst.get(word)} ${WORDS[word]}`);
    const said = words.length === 0 ? "All joints are well inside their limits." : `${words.join(", ")}, of ${this.cells.length} readings.`;
    if (this.summary.textContent !== said) this.summary.textContent = said;
  }

  private build(card: Card, short: Record<string, string>): void {
    this.card = card;
    this.cells = [];
    const legs = Object.entries(card.legs);
    const half = Math.ceil(legs.length / 2);
    const named = legs.map(([leg, joints]) => ({ leg, joints, name: short[leg] ?? leg }));
    const left = named.filter(({ name }) => name.startsWith("L"));
    const pairs = left.length > 0 && left.length < named.length ? [left, named.filter(({ name }) => !name.startsWith("L"))] : [named.slice(0, half), named.slice(half)];
    const rows: HTMLElement[] = [];
    for (let i = 0; i < Math.max(...pairs.map((side) => side.length)); i += 1) {
      for (const side of pairs) {
        const one = side[i];
        rows.push(one === undefined ? html("div") : this.table(card, one.name, one.joints));
      }
    }
    this.element.replaceChildren(...rows);
  }

  private table(card: Card, name: string, joints: readonly string[]): HTMLElement {
    const kinds = joints.length === 3 ? ["coxa", "femur", "tibia"] : joints.map((_, i) => `joint ${i + 1}`);
    const head = html("tr", {}, html("th", { scope: "col", class: "leg" }, name), ...kinds.map((kind) => html("th", { scope: "col" }, kind)));
    const body = ROWS.map(([words, unit], row) => {
      const cells = joints.map((joint) => {
        const element = html("td", { "data-joint": joint, "data-reading": words });
        this.cells.push({ element, joint: card.joints.indexOf(joint), row, was: "" });
        return element;
      });
      return html("tr", {}, html("th", { scope: "row" }, words, html("small", {}, ` ${unit}`)), ...cells);
    });
    return html("table", { "aria-label": `Joints of ${name}` }, html("thead", {}, head), html("tbody", {}, ...body));
  }
}
