// The bottom band: the phase cursor on its ruler; run, step, worst instant.
import { Words } from "../cursor";
import { still } from "../look";
import { number } from "../numbers";
import { button, html, svg } from "../svg";
import type { Desk } from "../view";

const STEP = 1 / 32;
const TICKS = 20;

/** Words where they differ: what is the same is not laid out anew with every picture. */
function write(place: HTMLElement, words: string): void {
  if (place.textContent !== words) place.textContent = words;
}

/** The ruler is a slider; its marks tell where findings are worst. */
export function ruler({ store, cursor, shell }: Desk): HTMLElement {
  const run = button("Run", () => (still.matches ? cursor.set(cursor.phase + STEP) : cursor.run(!cursor.running)), { class: "wide", "aria-keyshortcuts": "Space" });
  const step = button("Step", () => {
    cursor.run(false);
    cursor.set(cursor.phase + STEP);
  }, { "aria-keyshortcuts": "." });
  const worst = button("Worst instant", () => {
    const at = store.cycle.now?.header.worst ?? -1;
    if (at < 0) return;
    cursor.run(false);
    cursor.set(at);
    shell.tell(`Phase ${number(at, 2)}, where a joint comes nearest to what its servo can give`);
  }, { "aria-keyshortcuts": "w" });
  const value = html("b", {});
  const downs = html("span", {});
  const said = html("div", { class: "phase" }, html("i", {}, "φ"), value, downs);
  const scale = svg("svg", { class: "scale", viewBox: "0 0 1000 40", preserveAspectRatio: "none", "aria-hidden": "true" });
  const pointer = html("div", { class: "runner", "aria-hidden": "true" }, html("div", { class: "pointer" }));
  const words = new Words();
  const slider = html("input", {
    type: "range", min: "0", max: "1", step: "0.001", value: "0", class: "slide", "aria-label": "Phase of the cycle",
  });
  const track = html("div", { class: "track" }, scale, pointer, slider);

  slider.addEventListener("input", () => {
    cursor.run(false);
    cursor.set(Math.min(Number(slider.value), 0.9999));
  });
  slider.addEventListener("keydown", (event) => {
    const by = { ArrowRight: STEP, ArrowUp: STEP, ArrowLeft: -STEP, ArrowDown: -STEP, PageUp: 0.1, PageDown: -0.1 }[event.key];
    if (by === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    cursor.run(false);
    cursor.set(cursor.phase + by);
  });

  const drawScale = (): void => {
    scale.replaceChildren();
    let ticks = "M0 16H1000";
    for (let i = 0; i <= TICKS; i += 1) ticks += `M${(1000 * i) / TICKS} 16v${i % 5 === 0 ? 16 : 8}`;
    scale.append(svg("path", { class: "ticks", d: ticks, "vector-effect": "non-scaling-stroke" }));
    for (const found of store.verdict?.findings ?? []) {
      if (found.phase === null || (found.verdict !== "fail" && found.verdict !== "warn")) continue;
      if (found.case !== store.cycle.now?.header.case) continue;
      scale.append(svg("path", { class: `at ${found.verdict}`, d: `M${1000 * found.phase - 12} 10h24`, "vector-effect": "non-scaling-stroke" }));
    }
  };
  const drawPhase = (): void => {
    pointer.style.transform = `translateX(${(100 * cursor.phase).toFixed(2)}%)`;
    if (!words.due(cursor)) return;
    const { cycle } = store;
    const short = store.welcome?.short ?? {};
    const legs = cycle.now?.header.legs ?? [];
    const contact = cycle.now?.arrays["contact"];
    const count = cycle.now?.arrays["t"]?.length ?? 1;
    const at = Math.round(cursor.phase * count) % count;
    const down = legs.filter((_, i) => contact?.[at * legs.length + i]).map((leg) => short[leg] ?? leg);
    slider.value = String(cursor.phase);
    const text = cycle.now === null ? "no cycle yet" : `${down.join(" ")} down`;
    slider.setAttribute("aria-valuetext", `phase ${number(cursor.phase, 2)}, ${text}`);
    const { instead } = cursor;
    write(value, number(cursor.phase, 2));
    write(downs, instead || text);
    downs.title = downs.textContent ?? "";
    write(run, cursor.running ? "Hold" : "Run");
    run.hidden = still.matches;
    run.disabled = step.disabled = slider.disabled = instead !== "";
    worst.disabled = instead !== "" || (cycle.now?.header.worst ?? -1) < 0;
    track.classList.toggle("resting", instead !== "");
    said.classList.toggle("resting", instead !== "");
  };
  cursor.listen(drawPhase);
  store.listen(["cycle", "welcome"], () => {
    drawScale();
    drawPhase();
  });
  store.listen(["verdict"], drawScale);
  still.addEventListener("change", drawPhase);
  drawScale();
  drawPhase();
  return html("div", { class: "ruler" }, html("div", { class: "row" }, run, step, worst, said), track);
}
