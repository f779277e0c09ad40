// Keys for the whole sheet. A field that is being typed in keeps its own.
import { still } from "../look";
import type { Desk } from "../view";

const STEP = 1 / 32;

function typing(target: EventTarget | null): boolean {
  return target instanceof HTMLElement && target.matches("input:not([type=range]), select, textarea");
}

/** Listen for the sheet's keys. */
export function keyboard(desk: Desk, turnTheme: () => void): void {
  const { store, link, cursor, shell, figure } = desk;
  const plain: Record<string, () => void> = {
    t: turnTheme,
    n: () => {
      const bad = (store.verdict?.findings ?? []).filter((found) => found.verdict !== "pass");
      const at = bad.findIndex((found) => found.id === store.finding);
      store.open(bad[(at + 1) % (bad.length || 1)]?.id ?? "");
    },
    w: () => {
      const worst = store.cycle.now?.header.worst ?? -1;
      if (worst >= 0) cursor.set(worst);
    },
    ".": () => cursor.set(cursor.phase + STEP),
    ",": () => cursor.set(cursor.phase - STEP),
    f: () => figure.fit(),
    Escape: () => store.open(""),
  };
  addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.isComposing) return;
    const ctrl = event.ctrlKey || event.metaKey;
    if (ctrl && !event.altKey && event.key.toLowerCase() === "z") {
      if (typing(event.target) && (event.target as HTMLInputElement).dataset["typed"] === "yes") return;
      event.preventDefault();
      link.send({ type: event.shiftKey ? "redo" : "undo" });
      return;
    }
    if (ctrl || event.altKey || typing(event.target)) return;
    if (event.key >= "1" && event.key <= String(shell.count)) {
      shell.open(Number(event.key) - 1);
      return;
    }
    if (event.key === " " && !shell.armed && !(event.target instanceof HTMLButtonElement)) {
      event.preventDefault();
      if (still.matches) cursor.set(cursor.phase + STEP);
      else cursor.run(!cursor.running);
      return;
    }
    plain[event.key]?.();
  });
}
