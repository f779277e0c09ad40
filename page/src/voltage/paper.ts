// A drawing from Python on the sheet: whole, or enlarged and shifted, its parts pointed at.
import { button, html } from "../svg";

const ZOOM = [1, 1.5, 2.25, 3.5];
const PATIENCE = 300; // ms: what takes longer is told
const SHIFTED = 4; // px: a shorter way is a click

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
  private shifted = false;

  constructor(private readonly point: (part: string, chosen: boolean) => void) {
    this.element.append(this.scroll);
    this.zooms = html("div", { class: "steps" }, this.less, this.more);
    this.scroll.addEventListener("pointerover", (event) => this.tell(event, false));
    this.scroll.addEventListener("click", (event) => {
      if (!this.shifted) this.tell(event, true);
    });
    this.scroll.addEventListener("pointerdown", (event) => this.shift(event));
    this.scroll.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return; // a plain wheel scrolls
      event.preventDefault();
      this.zoom(event.deltaY < 0 ? 1 : -1, event);
    }, { passive: false });
    this.scroll.addEventListener("keydown", (event) => {
      const by = { "+": 1, "=": 1, "-": -1 }[event.key];
      if (by === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      this.zoom(by);
    });
    this.zoom(0);
  }

  /** Fetch a drawing and show it; what was shown stays until then. */
  async show(address: string, title: string): Promise<void> {
    if (address === this.wanted) return;
    this.wanted = address;
    const slow = setTimeout(() => {
      if (this.wanted === address) this.element.dataset["wait"] = `${title}: being drawn`;
    }, PATIENCE);
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
    } finally {
      clearTimeout(slow);
      if (this.wanted === address || this.wanted === this.shown) delete this.element.dataset["wait"];
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
        if (first && this.level > 0) each.scrollIntoView({ block: "nearest", inline: "nearest" });
        first = false;
      }
    }
  }

  /** A step smaller or larger about a point of the screen; about the middle when there is none. */
  private zoom(step: number, about?: MouseEvent): void {
    const { scroll } = this, box = scroll.getBoundingClientRect();
    const x = about === undefined ? box.width / 2 : about.clientX - box.left;
    const y = about === undefined ? box.height / 2 : about.clientY - box.top;
    const before = ZOOM[this.level] ?? 1;
    this.level = Math.max(0, Math.min(ZOOM.length - 1, this.level + step));
    const now = ZOOM[this.level] ?? 1;
    scroll.style.setProperty("--zoom", String(now));
    this.element.classList.toggle("larger", this.level > 0);
    const [left, top] = [(scroll.scrollLeft + x) * (now / before) - x, (scroll.scrollTop + y) * (now / before) - y];
    scroll.scrollTo({ left, top, behavior: "instant" });
    this.less.disabled = this.level === 0;
    this.more.disabled = this.level === ZOOM.length - 1;
  }

  /** An enlarged drawing goes with the mouse; fingers scroll it anyway. */
  private shift(down: PointerEvent): void {
    this.shifted = false;
    if (down.pointerType !== "mouse" || down.button !== 0) return;
    const { scroll } = this, from = [scroll.scrollLeft, scroll.scrollTop] as const;
    const move = (event: PointerEvent): void => {
      const [x, y] = [event.clientX - down.clientX, event.clientY - down.clientY];
      this.shifted ||= this.level > 0 && Math.hypot(x, y) > SHIFTED;
      if (this.shifted) scroll.scrollTo({ left: from[0] - x, top: from[1] - y, behavior: "instant" });
    };
    addEventListener("pointermove", move);
    const end = new AbortController();
    for (const name of ["pointerup", "pointercancel"]) {
      addEventListener(name, () => {
        removeEventListener("pointermove", move);
        end.abort();
        setTimeout(() => (this.shifted = false)); // after the click that ends the way
      }, { signal: end.signal });
    }
  }

  private tell(event: Event, chosen: boolean): void {
    const hit = event.target instanceof Element ? event.target.closest("[data-part]") : null;
    const part = hit?.getAttribute("data-part");
    if (part !== null && part !== undefined) this.point(part, chosen);
  }
}
