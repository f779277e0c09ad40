// Lettering over the figure: leg names, forces, centre of mass, balloons, axes, scale.
import { balloon, limitMark } from "../mark";
import { newtons, number } from "../numbers";
import type { Store } from "../store";
import { svg } from "../svg";
import type { Layers } from "./figure";
import type { Lettering, Spot } from "./lettering";
import type { Links } from "./links";
import type { Found } from "../wire";
import type { Instant } from "./pose";
import type { Sight } from "./sight";
import { Vec } from "./space";
import type { Pose } from "./space";

/** All that the notes are about. */
export interface Noted {
  store: Store;
  sight: Sight;
  links: Links;
  instant: Instant;
  body: Pose;
  legs: readonly string[];
  feet: readonly Vec[];
  lifted: ReadonlySet<string>;
  /** Legs whose foot another part stands before. */
  covered: ReadonlySet<string>;
  /** Number of the solid at a place of the picture; 0: none. */
  solid: (x: number, y: number) => number;
  layers: Layers;
  size: readonly [number, number];
  /** Where the axes stand, free of the robot as it was fitted [px]. */
  axes: Spot;
  /** Of the cycle that is shown; null: something else is. */
  phase: number | null;
}

const MOST = 5; // balloons at once
const NEWTON_PX = 1.6; // of a force's arrow, less where the whole weight would be longer than
const WEIGHT_PX = 90;
const THERE = 0.025; // share of the cycle around the nearest instant
const CENTRE_LINE = [24, 3, 0.6, 3];
const COVERED = [4, 2]; // a hidden line, short
const FROM_ABOVE = 0.95; // height of the eye from which a leg lies over its foot
const NAME_PX = 18;
const GAP_PX = 40; // gaps that lie closer to each other: the narrowest is lettered
const SAME_PX = 10; // feet that stand one behind the other
const SCALES = [5000, 2000, 1000, 500, 200, 100, 50, 20, 10, 5, 2, 1]; // mm
const AXES: readonly [string, Vec][] = [
  ["x", new Vec(1, 0, 0)],
  ["y", new Vec(0, 1, 0)],
  ["z", new Vec(0, 0, 1)],
];

/** Letters the figure; balloons are elements, as on the rest of the sheet. */
export class Notes {
  private balloonsShown = false;

  constructor(private readonly paper: SVGSVGElement) {}

  /** Draw all. */
  draw(of: Noted, pen: Lettering): void {
    names(of, pen); // first what stays where it is: numbers step aside
    axes(of, pen);
    scale(of, pen);
    centre(of, pen);
    if (of.layers.forces) forces(of, pen);
    if (of.layers.gaps) gaps(of, pen);
    const balloons = this.balloons(of);
    if (balloons.length > 0 || this.balloonsShown) this.paper.replaceChildren(...balloons);
    this.balloonsShown = balloons.length > 0;
  }

  /** Numbers of what is wrong, at the part that each speaks of; of the open finding at all its parts. */
  private balloons(of: Noted): SVGElement[] {
    const { store, size: [width, height] } = of;
    const shown: { found: Found; to: Spot; open: boolean }[] = [];
    for (const found of store.verdict?.findings ?? []) {
      const open = found.id === store.finding;
      if ((found.number === 0 || found.verdict === "unknown" || shown.length >= MOST) && !open) continue;
      for (const to of this.spots(of, found).slice(0, open ? 6 : 1)) {
        const same = shown.findIndex((other) => Math.hypot(other.to.x - to.x, other.to.y - to.y) < 1);
        if (same >= 0 && !open) continue; // one balloon a part, the worst
        if (same >= 0) shown.splice(same, 1);
        shown.push({ found, to, open });
      }
    }
    const taken: Spot[] = [];
    return shown.flatMap(({ found, to, open }) => {
      const away = to.x < width / 2 ? -1 : 1;
      const at = { x: Math.min(width - 20, Math.max(20, to.x + 46 * away)), y: Math.min(height - 20, Math.max(64, to.y - 58)) };
      const step = at.y > height / 2 ? -29 : 29; // away from the border, past those that stand there
      while (taken.some((other) => Math.hypot(other.x - at.x, other.y - at.y) < 28)) at.y += step;
      taken.push(at);
      const size = open ? 28 : 22;
      const sign = found.number > 0 ? balloon(found.number, found.verdict, size) : limitMark(found.verdict, 16);
      sign.setAttribute("x", String(at.x - size / 2));
      sign.setAttribute("y", String(at.y - size / 2));
      const name = `leader ${found.verdict}${open ? " open" : ""}`;
      return [
        svg("path", { class: name, d: `M${at.x} ${at.y}L${to.x} ${to.y}` }),
        svg("circle", { class: name, cx: to.x, cy: to.y, r: 2.5 }),
        sign,
      ];
    });
  }

  private spots({ links, sight, feet, legs }: Noted, found: Found): Spot[] {
    return found.parts.flatMap((part) => {
      const leg = legs.indexOf(part);
      const foot = feet[leg];
      if (foot) return [sight.project(foot)];
      const joint = links.shape.joints.find((each) => each.name === part);
      const link = joint?.child ?? (links.shape.links.includes(part) ? part : "");
      const middle = link === "" ? null : links.middle(link);
      return middle ? [sight.project(middle)] : [];
    });
  }
}

/** Feet with their legs' names; where one stands before another both are named, the nearer first. */
function names({ store, sight, feet, legs, links, lifted, covered, solid }: Noted, pen: Lettering): void {
  const body = sight.project(links.middle(links.shape.body) ?? new Vec());
  const places = legs.flatMap((leg, i) => {
    const foot = feet[i];
    return foot ? [{ leg, at: sight.project(foot) }] : [];
  }).sort((a, b) => b.at.z - a.at.z);
  const named = new Set<string>();
  for (const { leg, at } of places) {
    if (named.has(leg)) continue;
    const alike = places.filter((other) => !named.has(other.leg) && Math.hypot(other.at.x - at.x, other.at.y - at.y) < SAME_PX);
    for (const other of alike) named.add(other.leg);
    pen.covered(covered.has(leg));
    for (const other of [...alike].reverse()) pen.disc(other.at, 3.5, lifted.has(other.leg) || covered.has(other.leg), 1, covered.has(other.leg) ? COVERED : []);
    const words = alike.map((other) => store.welcome?.short[other.leg] ?? other.leg).join(", ");
    if (sight.axes().back.z > FROM_ABOVE) {
      // Beyond the whole leg, which hides its foot: nothing pushes sideways there.
      const out = Math.hypot(at.x - body.x, at.y - body.y) || 1, ux = (at.x - body.x) / out, uy = (at.y - body.y) / out;
      const far = links.beyond(leg, at.x, at.y, ux, uy) + 14;
      pen.text({ x: at.x + ux * far, y: at.y + uy * far + 5 }, words, "leg", "center");
      continue;
    }
    const out = (at.x < body.x ? -1 : 1) * Math.max(12, links.around(leg, at.x, at.y) + 5);
    // A covered foot is named on the part that covers it, not across that part's border.
    const across = (by: number): boolean => solid(at.x + by, at.y) !== solid(at.x + by + Math.sign(by) * NAME_PX, at.y);
    const away = covered.has(leg) && across(out) && !across(-out) ? -out : out;
    pen.text({ x: at.x + away, y: at.y + 4 }, words, "leg", away < 0 ? "end" : "start");
  }
  pen.covered(false);
}

function forces({ sight, instant, body, feet, legs, links, covered, size: [, height] }: Noted, pen: Lettering): void {
  const { force, contact } = instant;
  if (force === undefined) return;
  const newton = Math.min(NEWTON_PX, Math.min(WEIGHT_PX, height / 5) / (9.81 * links.shape.mass || 1));
  legs.forEach((leg, i) => {
    const foot = feet[i];
    const push = Vec.of(force, 3 * i);
    const size = push.length;
    if (!foot || size < 0.05 || (contact && !contact[i])) return;
    const along = body.way(push).times(1 / size);
    const tip = sight.project(foot);
    const from = sight.project(foot.plus(along, -(size * newton + 14) / sight.scale));
    if (Math.hypot(tip.x - from.x, tip.y - from.y) < 8) return;
    pen.covered(covered.has(leg));
    pen.line(from, tip, 1, covered.has(leg) ? COVERED : []);
    pen.arrow(from, tip);
    pen.text({ x: from.x + 6, y: from.y + 4 }, newtons(size), "number");
  });
  pen.covered(false);
}

/** Where links come nearest to each other: dots on both, and when they are there the distance. */
function gaps({ store, sight, links, phase }: Noted, pen: Lettering): void {
  const near = store.nearness, shown = store.cycle.now?.header.case;
  const points = near?.arrays["points"];
  if (near === null || phase === null || !points || near.header.case !== shown) return;
  const told: Spot[] = [];
  near.header.pairs.forEach((pair, i) => {
    const [a, b] = pair.links.map((link, end) => {
      const point = links.tree.links.get(link)?.point(Vec.of(points, 6 * i + 3 * end));
      return point ? sight.project(point) : null;
    });
    if (!a || !b) return;
    const away = Math.abs(phase - pair.phase), there = Math.min(away, 1 - away) < THERE;
    if (!there && i > 0) return;
    pen.wrong(pair.distance < (near.header.wanted ?? 0));
    if (there) {
      pen.line(a, b, 1.6);
      const mm = pair.distance * 1000, middle = { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
      const alone = told.every((other) => Math.hypot(other.x - middle.x, other.y - middle.y) > GAP_PX);
      told.push(middle);
      if (alone) pen.text({ x: middle.x + 8, y: middle.y - 6 }, `gap ${number(mm, Math.abs(mm) < 10 ? 1 : 0)}\u202fmm`, "number");
    }
    for (const end of [a, b]) pen.disc(end, 2.5, !there);
  });
  pen.wrong(false);
}

function centre({ sight, instant, body }: Noted, pen: Lettering): void {
  if (!instant.com) return;
  const com = body.point(Vec.of(instant.com));
  const high = sight.project(com);
  const low = sight.project(new Vec(com.x, com.y, 0));
  if (Math.abs(high.y - low.y) > 20) {
    pen.line(high, low, 1, CENTRE_LINE);
    pen.quartered(low, 6);
  }
  pen.quartered(high, 8);
  pen.text({ x: high.x + 13, y: high.y + 4 }, "CoM", "number", "start", 26);
}

/** Corners where axes may stand, the usual one first. */
export function axesCorners([width, height]: readonly [number, number]): Spot[] {
  const low = height - 76;
  return [{ x: 60, y: low }, { x: 60, y: 116 }, { x: width - 56, y: 116 }];
}

/** Half of the room that the axes take [px]. */
export const AXES_ROOM = 56;

function axes({ sight, axes: from }: Noted, pen: Lettering): void {
  const { right, up } = sight.axes();
  for (const [name, unit] of AXES) {
    const to = { x: from.x + 34 * unit.dot(right), y: from.y - 34 * unit.dot(up) };
    if (Math.hypot(to.x - from.x, to.y - from.y) < 6) continue;
    pen.line(from, to);
    pen.arrow(from, to);
    pen.text({ x: from.x + (to.x - from.x) * 1.32, y: from.y + (to.y - from.y) * 1.32 + 5 }, name, "symbol", "center");
  }
}

function scale({ sight, size: [width, height] }: Noted, pen: Lettering): void {
  const mm = SCALES.find((step) => (step / 1000) * sight.scale < 190) ?? 1;
  const long = (mm / 1000) * sight.scale;
  const x = width - 24 - long, y = height - 24;
  pen.line({ x, y }, { x: x + long, y });
  for (const end of [x, x + long]) pen.line({ x: end, y: y - 4 }, { x: end, y: y + 4 });
  pen.text({ x: x + long / 2, y: y - 7 }, `${mm}\u202fmm`, "number", "center");
  pen.keep(x, y + 5, long);
}
