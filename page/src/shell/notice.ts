// Over the figure: whether the desk is heard, and since when not.
import { sentence } from "../sentences";
import { html } from "../svg";
import type { Desk } from "../view";

const DAYTIME = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", second: "2-digit" });

/** A sentence while the line is down or nothing has come yet. */
export function linkNotice(desk: Desk): HTMLElement {
  const { store } = desk;
  const root = html("p", { class: "notice" });
  const draw = (): void => {
    const { link, shape, cycle } = store;
    document.documentElement.classList.toggle("lost", link === "lost");
    let text = "";
    if (link === "lost") {
      const since = desk.link.heardAt === 0 ? "never" : DAYTIME.format(desk.link.heardAt);
      text = `The desk is not heard, last at ${since}. It may have been stopped; the page tries again by itself.`;
    } else if (shape.now === null) {
      text = link === "opening" ? "Opening the line to the desk." : "The desk is reading the robot.";
    } else if (cycle.now === null) {
      text = "The desk is working out one cycle of the walk.";
    } else if (cycle.now.header.note !== "") {
      text = sentence(cycle.now.header.note);
    }
    root.textContent = text;
    root.hidden = text === "";
  };
  store.listen(["link", "shape", "cycle"], draw);
  draw();
  return root;
}
