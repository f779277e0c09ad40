// STOP: in the lower right corner and on the space bar, from every view, whoever drives.
import { html } from "../svg";
import type { Driver } from "./driver";

const CLOCK = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" });

/** The corner. */
export class StopCorner {
  private readonly word = html("b", {}, "STOP");
  private readonly small = html("small");
  private readonly element = html("button", { type: "button", class: "stop", "aria-keyshortcuts": "Space" }, this.word, this.small);
  private at: Date | null = null;
  private was = "";

  constructor(private readonly driver: Driver) {
    // On press, not on release: a stop does not wait for the finger to leave.
    this.element.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      driver.stop();
    });
    this.element.addEventListener("click", (event) => {
      if (event.detail === 0) driver.stop(); // by Enter, or by a reader's own press
    });
    addEventListener("keydown", (event) => {
      if (event.key !== " " || event.repeat || !driver.connected) return;
      const { target } = event;
      if (target instanceof HTMLElement && target.matches("input[type=text], input[type=password], textarea")) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      driver.stop();
    }, true);
  }

  /** It was pressed. */
  pressed(): void {
    this.at = new Date();
  }

  /** Show what is so. */
  tell(): void {
    const { driver } = this;
    driver.desk.shell.setCorner(driver.connected ? this.element : null);
    if (!driver.connected) return;
    const { link } = driver.robot;
    if (!driver.stopped) this.at = link === "open" && this.at !== null && Date.now() - this.at.getTime() > 1500 ? null : this.at;
    else this.at ??= new Date();
    const heard = driver.robot.heardAt === 0 ? "yet" : `since ${CLOCK.format(driver.robot.heardAt)}`;
    const [state, small] =
      link === "lost" || link === "opening" ? ["lost", `Not heard ${heard}: use the robot's own stop.`]
      : link === "outside" ? ["lost", "Sign in first, or use the robot's own stop."]
      : driver.stopped ? ["stopped", `stopped, ${CLOCK.format(this.at ?? new Date())}`]
      : ["ready", "Sits down, power off. Space bar. Not the emergency stop."];
    const key = `${state}${small}`;
    if (key === this.was) return;
    this.was = key;
    this.element.dataset["state"] = state ?? "";
    this.small.textContent = small ?? "";
  }
}
