// What is to be walked: ground, seed, gait, speed, felt or blind.
import { html } from "../svg";
import type { Desk } from "../view";
import type { Walking, WalkStart } from "../wire";

type Asking = Omit<WalkStart, "n">;

/** What is typed: its name in a sentence, whether it is a whole number, what nothing stands for. */
const NUMBERS: Record<string, { what: string; whole: boolean; empty: string }> = {
  seed: { what: "The seed", whole: true, empty: "" },
  speed: { what: "The speed", whole: false, empty: "what the sheet asks" },
  distance: { what: "The distance", whole: false, empty: "" },
  height: { what: "The height of the steps", whole: false, empty: "" },
};

let made = 0;

/** The fields of a walk. */
export class WalkForm {
  readonly element: HTMLElement;
  private readonly inputs = new Map<string, HTMLInputElement | HTMLSelectElement>();

  constructor(desk: Desk) {
    made += 1;
    this.element = html("div", { class: "walk-form", role: "group", "aria-label": "What is to be walked" },
      this.choice("ground", "ground", []),
      this.choice("gait", "gait", []),
      this.typed("speed", "speed, m/s", "", "as the sheet asks"),
      this.choice("mode", "feet", ["felt", "blind"]),
      this.typed("seed", "seed", "1"),
      this.typed("distance", "distance, m", "3"),
      this.typed("height", "steps over leg length", "0.25"),
      this.choice("pace", "pace", ["1", "0.25", "0.5", "2", "0"], ["real time", "a quarter", "half", "twice", "as fast as it goes"]),
    );
    this.inputs.get("pace")?.addEventListener("change", () => {
      const state = desk.store.walk?.state;
      if (state === "walking" || state === "paused") desk.link.send({ type: "walk_pace", pace: this.number("pace") ?? 1 });
    });
  }

  /** What there is to choose from, as the desk says it. */
  offer(grounds: readonly string[], gaits: readonly string[]): void {
    fill(this.inputs.get("ground"), grounds);
    fill(this.inputs.get("gait"), gaits);
  }

  /** What is asked; where something typed is no number, what is wrong with it. */
  asked(): Asking | string {
    let wrong = "";
    for (const [key, { what, whole, empty }] of Object.entries(NUMBERS)) {
      const text = this.word(key), value = this.number(key);
      const fits = text === "" ? empty !== "" : value !== null && (!whole || Number.isInteger(value));
      if (fits) this.inputs.get(key)?.removeAttribute("aria-invalid");
      else this.inputs.get(key)?.setAttribute("aria-invalid", "true");
      if (!fits && wrong === "") wrong = `${what} is ${text === "" ? "empty" : `“${text}”`}; it takes ${whole ? "a whole number" : "a number"}${empty === "" ? "" : `, or nothing for ${empty}`}.`;
    }
    if (wrong !== "") return wrong;
    return {
      type: "walk_start",
      ground: this.word("ground"),
      gait: this.word("gait"),
      mode: this.word("mode") === "blind" ? "blind" : "felt",
      seed: this.number("seed") ?? 1,
      speed: this.number("speed"),
      distance: this.number("distance") ?? 3,
      height: this.number("height") ?? 0.25,
      pace: this.number("pace") ?? 1,
    };
  }

  /** The state of the walk has changed. */
  tell(walk: Walking): void {
    const moving = walk.state === "walking" || walk.state === "paused" || walk.state === "starting";
    this.element.classList.toggle("under-way", moving);
  }

  private word(key: string): string {
    return this.inputs.get(key)?.value.trim() ?? "";
  }

  private number(key: string): number | null {
    const text = this.word(key).replace(",", ".");
    return text === "" || !Number.isFinite(Number(text)) ? null : Number(text);
  }

  private choice(key: string, label: string, values: readonly string[], words: readonly string[] = values): HTMLElement {
    const select = html("select", { name: key });
    values.forEach((value, i) => select.append(html("option", { value }, words[i] ?? value)));
    return this.row(key, label, select);
  }

  private typed(key: string, label: string, value: string, hint = ""): HTMLElement {
    return this.row(key, label, html("input", { name: key, type: "text", inputmode: "decimal", value, placeholder: hint, autocomplete: "off" }));
  }

  private row(key: string, label: string, input: HTMLInputElement | HTMLSelectElement): HTMLElement {
    input.id = `walk-${made}-${key}`;
    this.inputs.set(key, input);
    return html("div", { class: `asked of-${key}` }, html("label", { for: input.id }, label), input);
  }
}

/** Fill a choice; what was chosen stays. */
function fill(input: HTMLElement | undefined, values: readonly string[]): void {
  if (!(input instanceof HTMLSelectElement) || input.dataset["of"] === values.join()) return;
  const chosen = input.value;
  input.dataset["of"] = values.join();
  input.replaceChildren(...values.map((value) => html("option", { value }, value)));
  if (values.includes(chosen)) input.value = chosen;
}
