// A drawing from Python on the sheet: scrolled, enlarged, its parts pointed at.
import { button, html } from "../svg";

const ZOOM = [1, 1.5, 2.25, 3.5];

/** The place of one drawing. */
export class Paper {
  readonly element = html("div", { class: "paper" });
  /** Smaller and larger; for the row over the drawing. */
  readonly zooms: HTMLElement;
  private readonly scroll = html("div", { class: "scroll", tabindex: "0", role: "img", "aria-label": "drawing, not here yet" });
  private readonly less = button("−", () => this.zoom(-1), { "aria-label": "smaller" });
  private readonly more = button("+", () => this.zoom(1), { "aria-label": "larger" });
  private level = 0;
  private wanted = "";
  private shown = "";
  private lit: readonly string[] = [];

  constructor(private readonly point: (part: string, chosen: boolean) => void) {
    this.element.append(this.scroll);
    this.zooms = html("div", { class: "steps" }, this.less, this.more);
    this.scroll.addEventListener("pointerover", (event) => this.tell(event, false));
    this.scroll.addEventListener("click", (event) => this.tell(event, true));
    this.zoom(0);
  }

  /** Fetch a drawing and show it; what was shown stays until then. */
  async show(address: string, title: string): Promise<void> {
    if (address === this.wanted) return;
    this.wanted = address;
    try {
      const answer = await fetch(address);
      const text = await answer.text();
      if (this.wanted !== address) return;
      if (!answer.ok) throw new Error(text);
      const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
      if (parsed.nodeName !== "svg") throw new Error("no drawing");
      parsed.removeAttribute("width");
      parsed.removeAttribute("height");
      this.scroll.replaceChildren(document.importNode(parsed, true));
      this.scroll.setAttribute("aria-label", title);
      this.shown = address;
      this.light(this.lit);
    } catch {
      if (this.wanted !== address) return;
      this.wanted = this.shown;
      this.scroll.replaceChildren(html("p", { class: "say" }, "This drawing could not be fetched. It comes with the next change, or reload the page."));
    }
  }

  /** Nothing to draw, and why. */
  empty(words: string): void {
    this.wanted = this.shown = "";
    this.scroll.replaceChildren(html("p", { class: "say" }, words));
  }

  /** Light some parts, and scroll the first into sight. */
  light(parts: readonly string[]): void {
    this.lit = parts;
    for (const each of this.scroll.querySelectorAll("[data-part].lit")) each.classList.remove("lit");
    let first = true;
    for (const part of parts) {
      for (const each of this.scroll.querySelectorAll(`[data-part="${CSS.escape(part)}"]`)) {
        each.classList.add("lit");
        if (first && this.level > 0) each.scrollIntoView({ block: "center", inline: "center" });
        first = false;
      }
    }
  }

  private zoom(step: number): void {
    this.level = Math.max(0, Math.min(ZOOM.length - 1, this.level + step));
    this.scroll.style.setProperty("--zoom", String(ZOOM[this.level]));
    this.less.disabled = this.level === 0;
    this.more.disabled = this.level === ZOOM.length - 1;
  }

  private tell(event: Event, chosen: boolean): void {
    const hit = event.target instanceof Element ? event.target.closest("[data-part]") : null;
    const part = hit?.getAttribute("data-part");
    if (part !== null && part !== undefined) this.point(part, chosen);
  }
}
