// What screen readers hear: the verdict when it comes, refusals, a lost line.
import { html } from "../svg";
import type { Desk } from "../view";
import { counted } from "./verdict_band";

/** A polite and an urgent line that nobody sees. */
export function announcer(body: HTMLElement, { store }: Desk): (text: string) => void {
  const polite = html("div", { class: "away", role: "status", "aria-live": "polite" });
  const urgent = html("div", { class: "away", role: "alert" });
  body.append(polite, urgent);
  let last = "";
  store.listen(["verdict"], () => {
    const { verdict } = store;
    if (verdict === null || !verdict.whole) return;
    const text = `${verdict.stamp}. ${counted(verdict.counts)}.`;
    if (text !== last) polite.textContent = text;
    last = text;
  });
  store.listen(["refused"], () => {
    urgent.textContent = store.refused?.text ?? "";
  });
  store.listen(["link"], () => {
    urgent.textContent = store.link === "lost" ? "The line to the desk is lost. The page tries again by itself." : "";
  });
  return (text) => {
    polite.textContent = text;
  };
}
