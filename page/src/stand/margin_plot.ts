// Static margin over the cycle: how far the centre of mass stays inside the support polygon.
import { millimetres, number } from "../numbers";
import { Plot, ticks } from "../plot";
import type { Moved } from "../plot";
import type { Store } from "../store";
import { svg } from "../svg";

const WIDTH = 250;
const HEIGHT = 150;

/** The plot; null while there is no cycle. */
export function marginPlot(store: Store): Moved | null {
  const { now, before } = store.cycle;
  const margin = now?.arrays["margin"];
  if (!now || !margin || margin.length === 0) return null;
  const mm = Array.from(margin, (value) => value * 1000);
  const old = before ? Array.from(before.arrays["margin"] ?? [], (value) => value * 1000) : [];
  const wanted = (now.header.limits.margin ?? 0) * 1000;
  const all = [...mm, ...old, wanted, 0].filter(Number.isFinite);
  const low = Math.min(...all), high = Math.max(...all, wanted * 1.3);
  const least = Math.min(...mm);
  const plot = new Plot(
    { width: WIDTH, height: HEIGHT, pad: [22, 8, 32, 40], x: [0, 1], y: [low, high + (high - low) * 0.06] },
    `Static margin over the cycle, at least ${number(least)} mm, wanted ${number(wanted)} mm`,
    "margin",
  );
  plot.text(40, 13, "static margin, mm", "title");
  plot.hatch(low, wanted);
  plot.line([[0, wanted], [1, wanted]], "limit");
  if (old.length > 1) plot.line(closed(old), "before");
  plot.line(closed(mm), "trace");
  plot.line(closed(mm).map(([x, y]): [number, number] => [x, y < wanted ? y : NaN]), "over");
  plot.axes([0, 0.5, 1], ticks(low, high, 3), (v) => number(v), (v) => number(v, v === 0.5 ? 1 : 0));
  plot.text(plot.x(0.5), HEIGHT - 3, "phase", "tick", "middle");
  const line = svg("path", { class: "cursor", d: `M0 ${plot.y(plot.frame.y[1])}V${plot.y(low)}` });
  const dot = svg("circle", { class: "dot", r: 4 });
  plot.root.append(line, dot);
  plot.text(WIDTH - 8, 13, `least ${millimetres(least / 1000)}`, least < wanted ? "value fail" : "value", "end");
  return {
    root: plot.root,
    move(phase) {
      const here = mm[Math.round(phase * mm.length) % mm.length] ?? 0;
      line.setAttribute("transform", `translate(${plot.x(phase).toFixed(1)} 0)`);
      dot.setAttribute("transform", `translate(${plot.x(phase).toFixed(1)} ${plot.y(here).toFixed(1)})`);
      dot.classList.toggle("fail", here < wanted);
    },
  };
}

function closed(values: readonly number[]): [number, number][] {
  const points = values.map((value, i): [number, number] => [i / values.length, value]);
  points.push([1, values[0] ?? NaN]);
  return points;
}
