// Lettering over the figure: leg names, forces, centre of mass, balloons, axes, scale.
import { Vector3 } from "three";
import type { Matrix4 } from "three";
import { balloon, limitMark } from "../mark";
import { newtons } from "../numbers";
import type { Store } from "../store";
import { svg } from "../svg";
import type { Layers } from "./figure";
import type { Links } from "./links";
import type { Found } from "../wire";
import type { Instant } from "./pose";
import type { Sight } from "./sight";

/** All that the notes are about. */
export interface Noted {
  store: Store;
  sight: Sight;
  links: Links;
  instant: Instant;
  body: Matrix4;
  legs: readonly string[];
  feet: readonly Vector3[];
  lifted: ReadonlySet<string>;
  layers: Layers;
  size: readonly [number, number];
}

interface Spot {
  x: number;
  y: number;
}

const MOST = 5; // balloons at once
const NEWTON_PX = 1.6;
const AXES: readonly [string, Vector3][] = [
  ["x", new Vector3(1, 0, 0)],
  ["y", new Vector3(0, 1, 0)],
  ["z", new Vector3(0, 0, 1)],
];

/** Writes the notes anew with each picture; there are few of them. */
export class Notes {
  constructor(private readonly paper: SVGSVGElement) {}

  /** Draw all. */
  draw(of: Noted): void {
    const parts: SVGElement[] = [
      ...this.centre(of),
      ...(of.layers.forces ? this.forces(of) : []),
      ...this.names(of),
      ...this.axes(of),
      ...this.scale(of),
      ...this.balloons(of),
    ];
    this.paper.replaceChildren(...parts);
  }

  private names({ store, sight, feet, legs, links, lifted }: Noted): SVGElement[] {
    const body = sight.project(links.middle(links.shape.body) ?? new Vector3());
    return legs.flatMap((leg, i) => {
      const foot = feet[i];
      if (!foot) return [];
      const at = sight.project(foot);
      const away = at.x < body.x ? -1 : 1;
      const up = lifted.has(leg);
      return [
        svg("circle", { class: up ? "foot up" : "foot", cx: at.x, cy: at.y, r: 3.5 }),
        svg("text", {
          class: "leg", x: at.x + 12 * away, y: at.y + 4, "text-anchor": away < 0 ? "end" : "start",
        }, store.welcome?.short[leg] ?? leg),
      ];
    });
  }

  private forces({ sight, instant, body, feet, legs }: Noted): SVGElement[] {
    const { force, contact } = instant;
    if (force === undefined) return [];
    const origin = new Vector3().setFromMatrixPosition(body);
    return legs.flatMap((_, i) => {
      const foot = feet[i];
      const push = new Vector3(force[3 * i], force[3 * i + 1], force[3 * i + 2]);
      const size = push.length();
      if (!foot || size < 0.05 || (contact && !contact[i])) return [];
      const along = push.clone().applyMatrix4(body).sub(origin).divideScalar(size);
      const tip = sight.project(foot);
      const from = sight.project(foot.clone().addScaledVector(along, -(size * NEWTON_PX + 14) / sight.scale));
      const length = Math.hypot(tip.x - from.x, tip.y - from.y);
      if (length < 8) return [];
      return [
        svg("path", { class: "thin", d: `M${from.x} ${from.y}L${tip.x} ${tip.y}` }),
        arrow(from, tip),
        svg("text", { class: "number", x: from.x + 6, y: from.y + 4 }, newtons(size)),
      ];
    });
  }

  private centre({ sight, instant, body }: Noted): SVGElement[] {
    if (!instant.com) return [];
    const com = new Vector3(instant.com[0], instant.com[1], instant.com[2]).applyMatrix4(body);
    const high = sight.project(com);
    const low = sight.project(new Vector3(com.x, com.y, 0));
    const apart = Math.abs(high.y - low.y) > 20;
    const parts: SVGElement[] = [];
    if (apart) {
      parts.push(svg("path", { class: "centre", d: `M${high.x} ${high.y}V${low.y}` }));
      parts.push(quartered(low.x, low.y, 6));
    }
    parts.push(quartered(high.x, high.y, 8));
    parts.push(svg("text", { class: "number", x: high.x + 13, y: high.y + 4 }, "CoM"));
    return parts;
  }

  private axes({ sight, size: [, height] }: Noted): SVGElement[] {
    const axes = sight.axes();
    const [x0, y0] = [56, height - 76];
    return AXES.flatMap(([name, unit]) => {
      const to = { x: x0 + 34 * unit.dot(axes.right), y: y0 - 34 * unit.dot(axes.up) };
      if (Math.hypot(to.x - x0, to.y - y0) < 6) return [];
      const text = { x: x0 + (to.x - x0) * 1.32, y: y0 + (to.y - y0) * 1.32 + 5 };
      return [
        svg("path", { class: "thin", d: `M${x0} ${y0}L${to.x} ${to.y}` }),
        arrow({ x: x0, y: y0 }, to),
        svg("text", { class: "symbol", "text-anchor": "middle", ...text }, name),
      ];
    });
  }

  private scale({ sight, size: [width, height] }: Noted): SVGElement[] {
    const steps = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];
    const mm = [...steps].reverse().find((step) => (step / 1000) * sight.scale < 190) ?? 1;
    const long = (mm / 1000) * sight.scale;
    const x = width - 24 - long, y = height - 24;
    return [
      svg("path", { class: "thin", d: `M${x} ${y - 4}v8M${x} ${y}h${long}m0 -4v8` }),
      svg("text", { class: "number", x: x + long / 2, y: y - 7, "text-anchor": "middle" }, `${mm}\u202fmm`),
    ];
  }

  /** Numbers of what is wrong, at the part that each speaks of; of the open finding at all its parts. */
  private balloons(of: Noted): SVGElement[] {
    const { store, size: [width, height] } = of;
    const shown: { found: Found; to: Spot; open: boolean }[] = [];
    for (const found of store.verdict?.findings ?? []) {
      const open = found.id === store.finding;
      if ((found.number === 0 || shown.length >= MOST) && !open) continue;
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

function arrow(from: { x: number; y: number }, to: { x: number; y: number }): SVGElement {
  const length = Math.hypot(to.x - from.x, to.y - from.y) || 1;
  const [ux, uy] = [(to.x - from.x) / length, (to.y - from.y) / length];
  const long = 9, half = long * Math.tan((9.5 * Math.PI) / 180);
  const [bx, by] = [to.x - ux * long, to.y - uy * long];
  return svg("path", {
    class: "head",
    d: `M${to.x} ${to.y}L${bx - uy * half} ${by + ux * half}L${bx + uy * half} ${by - ux * half}Z`,
  });
}

function quartered(x: number, y: number, r: number): SVGElement {
  return svg("g", { class: "com" },
    svg("circle", { class: "disc", cx: x, cy: y, r }),
    svg("path", { class: "quarter", d: `M${x} ${y}V${y - r}A${r} ${r} 0 0 1 ${x + r} ${y}Z M${x} ${y}V${y + r}A${r} ${r} 0 0 1 ${x - r} ${y}Z` }),
  );
}
