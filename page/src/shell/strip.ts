// The strip of questions: one is open at a time.
import { limitMark, WORDS } from "../mark";
import type { Word } from "../mark";
import { html } from "../svg";

/** A row of tabs after the ARIA practices: arrows move, Tab leaves. */
export class Strip {
  readonly row = html("div", { class: "strip", role: "tablist", "aria-label": "Questions" });
  private readonly tabs: HTMLButtonElement[];

  constructor(words: readonly string[], private readonly open: (index: number) => void) {
    this.tabs = words.map((word, index) => {
      const tab = html(
        "button",
        { type: "button", role: "tab", "aria-controls": "panel", "aria-selected": "false", tabindex: "-1", "aria-keyshortcuts": String(index + 1), title: word },
        html("span", { class: "n", "aria-hidden": "true" }, String(index + 1)),
        html("span", { class: "w" }, word),
      );
      tab.addEventListener("click", () => this.open(index));
      tab.addEventListener("keydown", (event) => this.step(event, index));
      return tab;
    });
    this.row.append(...this.tabs);
  }

  /** Mark a question as the open one. */
  choose(index: number): void {
    this.tabs.forEach((tab, i) => {
      tab.setAttribute("aria-selected", String(i === index));
      tab.tabIndex = i === index ? 0 : -1;
    });
  }

  /** Beside each question what the verdict says to it, where that is no plain pass. */
  tell(words: readonly (Word | null)[]): void {
    this.tabs.forEach((tab, i) => {
      const word = words[i] ?? null;
      const key = word === null || word === "pass" ? "" : word;
      if ((tab.dataset["verdict"] ?? "") === key) return;
      tab.dataset["verdict"] = key;
      tab.querySelector(".sign")?.remove();
      if (key === "") return;
      tab.append(html("span", { class: "sign" }, limitMark(key, 11), html("span", { class: "away" }, `, ${WORDS[key]}`)));
    });
  }

  private step(event: KeyboardEvent, index: number): void {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    const next = (index + step + this.tabs.length) % this.tabs.length;
    this.open(next);
    this.tabs[next]?.focus();
  }
}
