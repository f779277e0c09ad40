// What must have been read before there is power.
import { html } from "../svg";
import type { Driver } from "./driver";

const CAUTIONS: readonly (readonly [string, string])[] = [
  ["pinch", "Pinch points: hands, hair and cables clear of the legs. They close without warning."],
  ["falls", "Falls: the robot stands where it cannot fall far, and nobody is in front of it when it gets up."],
  ["cells", "Lithium cells: sound, never unattended, never under their cut-off, charged by the local rules."],
  ["stop", "A stop within reach: the robot's own emergency stop. STOP on this page is a convenience."],
  ["first", "First power-up: on a stand, from a supply with a current limit."],
];

/** The cautions, with a tick for each; one tick for all where nothing can hurt. */
export class Cautions {
  readonly element = html("section", { class: "part cautions" });
  private was = "";

  constructor(private readonly driver: Driver, private readonly ticked: () => void) {}

  /** Show what is so. */
  tell(): void {
    const { driver } = this;
    const real = driver.robot.card?.real ?? true;
    driver.cautions = real ? CAUTIONS.length : 1;
    const key = `${real} ${driver.careful} ${driver.robot.card?.name}`;
    if (key === this.was) return;
    this.was = key;
    if (driver.careful) {
      this.element.replaceChildren(html("h3", {}, "Cautions"), html("p", { class: "say" }, "Read and acknowledged. The tool advises, it does not certify."));
      return;
    }
    const list = html("ul", {}, ...CAUTIONS.map(([id, text]) => html("li", {}, real ? this.tick(id, text) : html("span", {}, text))));
    const head = html("h3", {}, "Before there is power");
    const all = real ? [] : [this.tick("all", "I have read them. This robot is simulated and hurts nobody; the next one may not be.")];
    this.element.replaceChildren(head, list, ...all);
  }

  private tick(id: string, text: string): HTMLElement {
    const box = html("input", { type: "checkbox", name: `caution-${id}` });
    box.checked = this.driver.seen.has(id);
    box.addEventListener("change", () => {
      if (box.checked) this.driver.seen.add(id);
      else this.driver.seen.delete(id);
      this.ticked();
    });
    return html("label", { class: "tick" }, box, html("span", {}, text));
  }
}
