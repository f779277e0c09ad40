// The limit mark: a frame, what is allowed; a dot, what is so. And the gauge and balloon with it.
import { svg } from "./svg";

export type Word = "pass" | "warn" | "fail" | "unknown";

export const WORDS: Record<Word, string> = {
  pass: "pass",
  warn: "near its limit",
  fail: "fail",
  unknown: "not known",
};

const DOT_AT = { pass: 0.5, warn: 1.0, fail: 1.42 } as const;

/** The mark, `side` px high; without a word of its own: put one beside it. */
export function limitMark(verdict: Word, side: number): SVGSVGElement {
  const wide = verdict === "fail" ? 1.75 : verdict === "warn" ? 1.3 : 1.05;
  const root = svg("svg", {
    class: `mark ${verdict}`,
    viewBox: `0 0 ${wide} 1`,
    width: wide * side,
    height: side,
    "aria-hidden": "true",
  });
  const stroke = verdict === "fail" ? 0.17 : 0.085;
  const inset = stroke / 2;
  const frame = svg("rect", {
    class: "frame",
    x: inset,
    y: inset,
    width: 1 - stroke,
    height: 1 - stroke,
    "stroke-width": stroke,
  });
  if (verdict === "unknown") {
    const dash = (1 - stroke) / 9;
    frame.setAttribute("stroke-dasharray", `${dash} ${dash}`);
  }
  root.append(frame);
  if (verdict !== "unknown") {
    const r = verdict === "pass" ? 0.17 : verdict === "warn" ? 0.21 : 0.25;
    root.append(svg("circle", { class: "dot", cx: DOT_AT[verdict], cy: 0.5, r, "stroke-width": 0.085 }));
  }
  return root;
}

/** A finding's number in a balloon, in its verdict's manner. */
export function balloon(number: number, verdict: Word, size = 24): SVGSVGElement {
  const root = svg("svg", {
    class: `balloon ${verdict}`, viewBox: "0 0 24 24", width: size, height: size, "aria-hidden": "true",
  });
  root.append(
    svg("circle", { cx: 12, cy: 12, r: 11 }),
    svg("text", { x: 12, y: 16.9, "text-anchor": "middle" }, String(number)),
  );
  return root;
}

/** What a gauge shows. */
export interface Gauged {
  value: number | null;
  limit: number | null;
  margin: number | null;
  verdict: Word;
  shown: string;
  bound: string;
  was: string;
}

/** A gauge: the limit in the middle, what is not allowed hatched, a dot for what is so. */
export function gauge(of: Gauged, width = 280): SVGSVGElement {
  const root = svg("svg", { class: `gauge ${of.verdict}`, viewBox: `0 0 ${width} 48`, width, height: 48, role: "img" });
  root.setAttribute("aria-label", `${of.shown}, allowed ${of.bound}`);
  const left = 1, right = width - 1, y = 32, limit = width / 2;
  root.append(svg("path", { class: "scale", d: `M${left} ${y}H${right}M${left} ${y - 5}v10` }));
  if (of.limit === null || of.value === null || of.margin === null) {
    root.append(svg("text", { x: left, y: 14, class: "quiet" }, of.bound || "no limit stated"));
    root.append(svg("text", { x: limit + 6, y: 14, class: "value" }, of.shown));
    return root;
  }
  for (let x = limit - 8; x < right; x += 6) {
    const a = Math.max(limit, x), b = Math.min(right, x + 16);
    if (b <= a) continue;
    root.append(svg("path", { class: "hatch", d: `M${a} ${y + 8 - (a - x)}L${b} ${y + 8 - (b - x)}` }));
  }
  root.append(svg("path", { class: "limit", d: `M${limit} ${y - 12}V${y + 12}` }));
  const share = -of.margin / (Math.abs(of.limit) || Math.abs(of.margin) || 1);
  const at = limit + Math.max(-1, Math.min(1, share)) * (right - limit - 8);
  if (of.verdict === "fail") root.append(svg("path", { class: "over", d: `M${limit} ${y}H${at}` }));
  root.append(svg("circle", { class: "dot", cx: at, cy: y, r: 6 }));
  root.append(svg("text", { x: limit - 6, y: 14, "text-anchor": "end", class: "quiet" }, of.bound));
  root.append(svg("text", { x: limit + 6, y: 14, class: "value" }, of.shown));
  return root;
}
