// One button for each leg to hold it up, and one to probe with it; both only while they are held.
import { html } from "../svg";
import type { Driver } from "./driver";

/** Single-leg control without the figure: for keys and fingers. */
export class LegButtons {
  readonly element = html("section", { class: "part legs" });
  private readonly words = html("p", { class: "say", "aria-live": "polite" });
  private readonly rows = html("div", { class: "leg-rows" });
  private was = "";

  constructor(private readonly driver: Driver) {
    this.element.append(html("h3", {}, "One leg"), this.words, this.rows);
  }

  /** Show what is so. */
  tell(): void {
    const { driver } = this;
    const legs = Object.keys(driver.robot.card?.legs ?? {});
    const { leg } = driver;
    const short = driver.desk.store.welcome?.short ?? {};
    const text = leg.busy ? `${short[leg.leg] ?? leg.leg}: ${leg.doing === "lift" ? "in the air while you hold it" : leg.doing === "place" ? "going down" : "feeling for the ground"}.`
      : leg.result !== "" ? leg.result : "Drag a foot in the figure to lift it and set it down elsewhere; or hold a button. Letting go sets it down.";
    if (this.words.textContent !== text) this.words.textContent = text;
    const key = legs.join();
    if (key !== this.was) {
      this.was = key;
      this.rows.replaceChildren(...pairs(legs).map((name) => html("div", { class: "row" }, html("span", { class: "leg" }, short[name] ?? name), this.hold("Lift", name, () => leg.lift(name)), this.hold("Probe", name, () => leg.probe(name)))));
    }
    const off = !driver.robot.drives || !driver.careful;
    for (const each of this.rows.querySelectorAll("button")) each.disabled = off;
  }

  private hold(words: string, leg: string, begin: () => void): HTMLButtonElement {
    const element = html("button", { type: "button", "data-leg": leg, "aria-label": `${words} ${leg}, while it is held` }, words);
    const { driver } = this;
    element.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      element.setPointerCapture(event.pointerId);
      begin();
      this.tell();
    });
    for (const name of ["pointerup", "pointercancel", "lostpointercapture", "blur"] as const) {
      element.addEventListener(name, () => {
        driver.leg.release();
        this.tell();
      });
    }
    element.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || event.repeat) return;
      event.preventDefault();
      begin();
      this.tell();
    });
    element.addEventListener("keyup", (event) => {
      if (event.key === "Enter") driver.leg.release();
    });
    return element;
  }
}

/** Left legs left, right legs right, nose up; legs come left side first. */
function pairs(legs: readonly string[]): string[] {
  const half = Math.ceil(legs.length / 2);
  return legs.map((_, i) => legs[i % 2 === 0 ? i / 2 : half + (i - 1) / 2] ?? "").filter((name) => name !== "");
}
