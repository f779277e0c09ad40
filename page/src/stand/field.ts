// One key of the sheet, editable in place: value with its unit, range, − and +.
import { limitMark } from "../mark";
import { figures, withUnit } from "../numbers";
import { button, html } from "../svg";
import type { Desk } from "../view";
import type { Refused, SheetField } from "../wire";

let count = 0;

/** Keeps what was typed until it is taken or put back. */
export class FieldRow {
  readonly element: HTMLElement;
  private readonly input: HTMLInputElement | HTMLSelectElement;
  private readonly before = html("s", { class: "before" });
  private readonly wrong = html("p", { class: "wrong", hidden: "" });
  private readonly range = html("small", { class: "range" });
  private field: SheetField;
  private asked = 0;

  constructor(field: SheetField, private readonly desk: Desk) {
    this.field = field;
    count += 1;
    const id = `field-${count}`;
    this.input = field.choices.length > 0 ? choice(field.choices) : html("input", { type: "text", inputmode: "text", autocomplete: "off", spellcheck: "false" });
    this.input.id = id;
    this.input.setAttribute("aria-describedby", `${id}-range ${id}-wrong`);
    this.input.dataset["key"] = field.key;
    this.range.id = `${id}-range`;
    this.wrong.id = `${id}-wrong`;
    const label = html("label", { for: id, title: field.about }, field.label);
    const value = html("div", { class: "value" }, this.before, this.input);
    this.element = html("div", { class: "field" }, html("div", { class: "name" }, label, this.range), value);
    if (field.step !== null && field.choices.length === 0) {
      this.element.append(html("div", { class: "steps" },
        button("−", () => this.step(-1), { "aria-label": `${field.label} less` }),
        button("+", () => this.step(1), { "aria-label": `${field.label} more` }),
      ));
    }
    this.element.append(this.wrong);
    this.input.addEventListener("input", () => (this.input.dataset["typed"] = "yes"));
    this.input.addEventListener("change", () => this.send(this.input.value));
    this.input.addEventListener("keydown", (event) => this.onKey(event as KeyboardEvent));
    this.show(field);
  }

  /** Key of the sheet. */
  get key(): string {
    return this.field.key;
  }

  /** Show what is so now. */
  show(field: SheetField): void {
    this.field = field;
    const edited = field.value !== field.kept;
    this.element.classList.toggle("edited", edited);
    this.element.dataset["origin"] = field.origin;
    this.before.textContent = edited ? field.kept || "not said" : "";
    const { low, high, unit } = field;
    this.range.textContent = low !== null && high !== null
      ? `${figures(low)} to ${withUnit(figures(high), unit)}`
      : field.origin === "set" ? "" : field.origin;
    if (this.input.dataset["typed"] === "yes" && !this.wrong.hidden) return;
    if (document.activeElement !== this.input || this.input.dataset["typed"] !== "yes") this.input.value = field.value;
  }

  /** A refusal: if it is about this field, say so and keep what was typed. */
  refuse(refused: Refused | null): void {
    const mine = refused !== null && (refused.n === this.asked && this.asked > 0 || refused.key === this.field.key);
    if (mine) {
      this.element.classList.add("invalid");
      this.input.setAttribute("aria-invalid", "true");
      this.wrong.replaceChildren(limitMark("fail", 11), ` ${refused.text}`);
      this.wrong.hidden = false;
    }
  }

  private send(text: string): void {
    this.clear();
    if (text.trim() === this.field.value) {
      delete this.input.dataset["typed"];
      return;
    }
    this.asked = this.desk.link.send({ type: "edit", key: this.field.key, value: text.trim() });
  }

  private step(sign: number): void {
    const { number: value, step, low, high, unit } = this.field;
    if (value === null || step === null) return;
    const next = Math.min(high ?? Infinity, Math.max(low ?? -Infinity, value + sign * step));
    delete this.input.dataset["typed"];
    const text = String(Number(next.toPrecision(10)));
    this.send(unit === "" ? text : `${text} ${unit}`);
  }

  private onKey(event: KeyboardEvent): void {
    if (event.key === "Escape") {
      this.input.value = this.field.value;
      this.clear();
      event.stopPropagation();
    } else if ((event.key === "ArrowUp" || event.key === "ArrowDown") && this.input instanceof HTMLInputElement && this.field.step !== null) {
      event.preventDefault();
      this.step(event.key === "ArrowUp" ? 1 : -1);
    }
  }

  private clear(): void {
    delete this.input.dataset["typed"];
    this.element.classList.remove("invalid");
    this.input.removeAttribute("aria-invalid");
    this.wrong.hidden = true;
    this.wrong.replaceChildren();
  }
}

function choice(words: readonly string[]): HTMLSelectElement {
  const element = html("select", {});
  for (const word of words) element.append(html("option", { value: word }, word));
  return element;
}
