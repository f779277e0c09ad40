// The driver's place: who has it, taking, giving and handing it over.
import { button, html } from "../svg";
import type { Driver } from "./driver";

/** Who drives. */
export class Place {
  readonly element = html("section", { class: "part place" });
  private readonly words = html("p", { class: "say", "aria-live": "polite" });
  private readonly to = html("input", { type: "text", name: "to", id: "drive-to", autocomplete: "off", spellcheck: "false" });
  private readonly take: HTMLButtonElement;
  private readonly force: HTMLButtonElement;
  private readonly give: HTMLButtonElement;
  private readonly over: HTMLButtonElement;
  private readonly handing: HTMLElement;

  constructor(private readonly driver: Driver) {
    this.take = button("Take it", () => void driver.ask("take", {}, false), { class: "first", "data-asks": "take" });
    this.force = button("Take it by force", () => void driver.ask("take", { force: true }, false), { "data-asks": "force" });
    this.give = button("Give it up", () => void driver.ask("give", {}, false), { "data-asks": "give" });
    this.over = button("Hand it over", () => void driver.ask("hand-over", { to: this.to.value.trim() }, false), { "data-asks": "hand-over" });
    this.handing = html("div", { class: "line" }, html("div", { class: "asked" }, html("label", { for: "drive-to" }, "to the page with the number"), this.to), html("div", { class: "row" }, this.over));
    this.element.append(html("h3", {}, "The driver's place"), this.words, html("div", { class: "row" }, this.take, this.force, this.give), this.handing);
  }

  /** Show what is so. */
  tell(): void {
    const { robot } = this.driver;
    const taken = robot.driver.session !== "";
    const may = robot.role === "drive" || robot.role === "maintain";
    const who = robot.drives ? "You drive." : taken ? `${robot.driver.name || "Somebody"} drives, page ${robot.driver.session}.` : "Nobody drives.";
    const me = robot.session === "" ? "" : ` You are ${robot.name || "here"}, page ${robot.session}, and may ${robot.role}.`;
    const text = who + me;
    if (this.words.textContent !== text) this.words.textContent = text;
    this.take.disabled = robot.drives || !may;
    this.take.title = may ? "" : "Your key may only watch.";
    this.force.hidden = robot.role !== "maintain" || !taken || robot.drives;
    this.give.hidden = !robot.drives;
    this.handing.hidden = !robot.drives;
  }
}
