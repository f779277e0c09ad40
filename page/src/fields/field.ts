// One key of the sheet, editable in place: value with its unit, range, − and +.
import { limitMark } from "../mark";
import { figures, withUnit } from "../numbers";
import { button, html } from "../svg";
import type { Desk } from "../view";
import type { Refused, SheetField } from "../wire";

const ANSWERED = 10_000; // ms: what was sent and neither taken nor refused until then was overtaken
const UNHEARD = "The desk is not heard: what you typed is kept here. Press Enter again when it is back.";

let count = 0;

/** Keeps what was typed until it is taken or put back. */
export class FieldRow {
  readonly element: HTMLElement;
  /** What a search looks through. */
  readonly words: string;
  private readonly input: HTMLInputElement | HTMLSelectElement;
  private readonly before = html("s", { class: "before" });
  private readonly wrong = html("p", { class: "wrong", hidden: "" });
  private readonly range = html("small", { class: "range" });
  private field: SheetField;
  private typed = false;
  private asked = -1;
  /** What was sent and is not answered yet; null: nothing. */
  private sent: string | null = null;
  /** Revision that what was sent brought; its fields are the first that show it. */
  private taken = Infinity;

  constructor(field: SheetField, private readonly desk: Desk) {
    this.field = field;
    this.words = `${field.group} ${field.label} ${field.key} ${field.about}`.toLowerCase();
    count += 1;
    const id = `field-${count}`;
    this.input = field.choices.length > 0
      ? choice(field.choices)
      : html("input", { type: "text", autocomplete: "off", spellcheck: "false" });
    this.input.id = id;
    this.input.dataset["key"] = field.key;
    this.input.setAttribute("aria-describedby", `${id}-range ${id}-wrong`);
    this.range.id = `${id}-range`;
    this.wrong.id = `${id}-wrong`;
    const label = html("label", { for: id, title: field.about }, field.label);
    this.element = html("div", { class: "field" },
      html("div", { class: "name" }, label, this.range),
      html("div", { class: "value" }, this.before, this.input),
    );
    if (field.step !== null && field.choices.length === 0) {
      this.element.append(html("div", { class: "steps" },
        button("−", () => this.step(-1), { "aria-label": `${field.label} less`, tabindex: "-1" }),
        button("+", () => this.step(1), { "aria-label": `${field.label} more`, tabindex: "-1" }),
      ));
    }
    this.element.append(this.wrong);
    this.input.addEventListener("input", () => {
      this.typed = true;
      this.input.dataset["typed"] = "yes";
    });
    this.input.addEventListener("change", () => this.send(this.input.value));
    this.input.addEventListener("keydown", (event) => this.onKey(event as KeyboardEvent));
    this.show(field);
  }

  /** Key of the sheet. */
  get key(): string {
    return this.field.key;
  }

  /** Its value on disk. */
  get kept(): string {
    return this.field.kept;
  }

  /** Whether it differs from what is on disk. */
  get edited(): boolean {
    return this.field.value !== this.field.kept && this.field.origin === "set";
  }

  /** Put the cursor into it. */
  focus(): void {
    this.input.focus();
  }

  /** Show what is so now; what was typed and is refused or not answered yet stays. */
  show(field: SheetField, rev = 0): void {
    this.field = field;
    this.element.classList.toggle("edited", this.edited);
    this.element.dataset["origin"] = field.origin;
    this.before.textContent = this.edited ? field.kept || "not said" : "";
    this.range.textContent = rangeOf(field);
    if (this.sent !== null && rev < this.taken && field.value !== this.sent) return;
    this.sent = null;
    if (!this.wrong.hidden) {
      if (field.value !== this.input.value.trim()) return;
      this.clear();
    }
    if (this.typed && document.activeElement === this.input) return;
    this.typed = false;
    this.input.value = field.value;
  }

  /** The desk has told what differs from the disk: whether what was sent is among it. */
  heard(after: string, rev: number): void {
    if (this.sent !== null && after === this.sent) this.taken = Math.min(this.taken, rev);
  }

  /** The line is down: what was sent may not have come. */
  lost(): void {
    if (this.sent !== null) this.refuse({ type: "refused", n: this.asked, key: this.field.key, text: UNHEARD });
  }

  /** A refusal: if it is about this field, say so and keep what was typed. */
  refuse(refused: Refused | null): void {
    const mine = refused !== null && (refused.n === this.asked || (refused.key === this.field.key && this.typed));
    if (!mine) return;
    this.sent = null;
    this.element.classList.add("invalid");
    this.input.setAttribute("aria-invalid", "true");
    this.wrong.replaceChildren(limitMark("fail", 11), refused.text);
    this.wrong.hidden = false;
    this.wrong.scrollIntoView({ block: "nearest" }); // a field at the border opens downward
  }

  private send(text: string): void {
    this.clear();
    if (text.trim() === this.field.value) {
      this.done();
      return;
    }
    const n = this.desk.link.send({ type: "edit", key: this.field.key, value: text.trim() });
    if (n === 0) {
      this.refuse({ type: "refused", n: this.asked, key: this.field.key, text: UNHEARD });
      return;
    }
    this.asked = n;
    this.sent = text.trim() || this.field.kept;
    this.taken = Infinity;
    setTimeout(() => {
      if (this.asked !== n || this.sent === null) return;
      this.sent = null;
      this.show(this.field);
    }, ANSWERED);
    if (this.input instanceof HTMLSelectElement) this.done();
    else this.typed = false;
    delete this.input.dataset["typed"];
  }

  private step(sign: number): void {
    const { number: value, step, low, high, unit } = this.field;
    if (value === null || step === null) return;
    const typed = Number.parseFloat(this.input.value);
    const from = Number.isFinite(typed) && this.wrong.hidden ? typed : value;
    const next = Math.min(high ?? Infinity, Math.max(low ?? -Infinity, from + sign * step));
    const text = withPlain(String(Number(next.toPrecision(10))), unit);
    this.input.value = text;
    this.send(text);
  }

  private onKey(event: KeyboardEvent): void {
    const { input } = this;
    if (event.key === "Escape") {
      input.value = this.field.value;
      this.sent = null;
      this.clear();
      this.done();
      event.stopPropagation();
    } else if (event.key === "Enter" && input instanceof HTMLInputElement) {
      event.preventDefault();
      if (this.typed || !this.wrong.hidden) this.send(input.value);
    } else if (input instanceof HTMLInputElement && this.field.step !== null && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
      event.preventDefault();
      this.step(event.key === "ArrowUp" ? 1 : -1);
    }
  }

  private done(): void {
    this.typed = false;
    delete this.input.dataset["typed"];
  }

  private clear(): void {
    this.element.classList.remove("invalid");
    this.input.removeAttribute("aria-invalid");
    this.wrong.hidden = true;
    this.wrong.replaceChildren();
  }
}

function withPlain(text: string, unit: string): string {
  return unit === "" ? text : `${text} ${unit}`;
}

/** Where it is from and what it can be; bounds so wide that they tell nothing are left out. */
function rangeOf(field: SheetField): string {
  const { low, high, unit, origin, value } = field;
  const from = origin === "set" ? "" : value === "" ? "not said" : origin;
  const wide = field.number !== null && high !== null && high > 20 * Math.max(Math.abs(field.number), 1);
  const range = wide ? "" : low !== null && high !== null
    ? `${figures(low)} to ${withUnit(figures(high), unit)}`
    : low !== null ? `from ${withUnit(figures(low), unit)}`
      : high !== null ? `up to ${withUnit(figures(high), unit)}` : "";
  return [from, range].filter((each) => each !== "").join(", ");
}

function choice(words: readonly string[]): HTMLSelectElement {
  const element = html("select", {});
  for (const word of words) element.append(html("option", { value: word }, word));
  return element;
}
