// Which robot: the built-in simulated one, or the program of a machine; and signing in.
import { button, html } from "../svg";
import type { Driver } from "./driver";

/** Choosing a robot and getting in. */
export class Connect {
  readonly element = html("section", { class: "part connect" });
  private was = "";
  private asked = 0;
  private readonly trouble = html("p", { class: "wrong", hidden: "" });

  constructor(private readonly driver: Driver) {}

  /** Show what is so. */
  tell(): void {
    const { driver } = this;
    const { store } = driver.desk;
    const robot = store.robot;
    const refused = store.refused;
    if (refused && refused.n === this.asked && this.asked > 0) this.fail(refused.text);
    else if (robot?.text) this.fail(robot.text);
    else if (driver.robot.trouble !== "") this.fail(driver.robot.trouble);
    else this.trouble.hidden = true;
    const key = `${robot?.state} ${robot?.address} ${driver.robot.link === "outside"} ${driver.robot.card?.name} ${store.welcome?.grounds.join()}`;
    if (key === this.was) return;
    this.was = key;
    driver.desk.shell.tools.replaceChildren(...(driver.connected ? this.which() : []));
    this.element.replaceChildren(...(driver.connected ? this.there() : robot?.state === "starting" ? this.starting() : this.choose()), this.trouble);
  }

  private fail(text: string): void {
    this.trouble.textContent = text;
    this.trouble.hidden = false;
  }

  private choose(): HTMLElement[] {
    const { link, store } = this.driver.desk;
    const ground = html("select", { name: "ground", id: "drive-ground" }, ...(store.welcome?.grounds ?? ["flat"]).map((name) => html("option", { value: name }, name)));
    const address = html("input", { type: "text", name: "address", id: "drive-address", placeholder: "wss://rook.local:8443", autocomplete: "off", spellcheck: "false" });
    const connect = (): void => {
      this.asked = link.send({ type: "robot_connect", address: address.value });
    };
    address.addEventListener("keydown", (event) => {
      if (event.key === "Enter") connect();
    });
    return [
      html("h3", {}, "Which robot?"),
      html("p", { class: "say" }, "A simulated one of the robot on the desk, as it is edited now:"),
      html("div", { class: "line" }, html("div", { class: "asked" }, html("label", { for: "drive-ground" }, "ground"), ground),
        html("div", { class: "row" }, button("Start simulated robot", () => {
          this.asked = link.send({ type: "robot_start", ground: ground.value, seed: 1 });
        }, { class: "first" }))),
      html("p", { class: "say" }, "Or the program of a machine, started there by legwright drive:"),
      html("div", { class: "line" }, html("div", { class: "asked" }, html("label", { for: "drive-address" }, "address"), address),
        html("div", { class: "row" }, button("Connect", connect))),
    ];
  }

  private starting(): HTMLElement[] {
    return [html("p", { class: "say" }, "The simulated robot is being built; that takes some seconds.")];
  }

  /** Beside the question: which robot it is about, and a way out. */
  private which(): HTMLElement[] {
    const { robot, desk: { link, store } } = this.driver;
    const where = store.robot?.state === "simulated" ? `${robot.card?.name ?? "A robot"}, simulated` : `${robot.card?.name ?? "A robot"} at ${store.robot?.address ?? ""}`;
    const leave = button(store.robot?.state === "simulated" ? "End it" : "Disconnect", () => link.send({ type: "robot_end" }));
    return [html("p", { class: "say where" }, where), html("div", { class: "row" }, leave)];
  }

  private there(): HTMLElement[] {
    const { robot } = this.driver;
    const found: HTMLElement[] = [];
    if (robot.link === "outside") {
      const token = html("input", { type: "password", name: "token", id: "drive-token", autocomplete: "off" });
      const enter = (): void => {
        robot.signIn(token.value);
        token.value = "";
      };
      token.addEventListener("keydown", (event) => {
        if (event.key === "Enter") enter();
      });
      found.push(html("div", { class: "line" }, html("div", { class: "asked" }, html("label", { for: "drive-token" }, "token, as legwright key add printed it"), token),
        html("div", { class: "row" }, button("Sign in", enter, { class: "first" }))));
    }
    return found;
  }
}
