// The figure: the robot as a line drawing, and all that is drawn around it.
import type { Cursor } from "../cursor";
import { onTheme, palette } from "../look";
import type { Store } from "../store";
import type { Shape } from "../wire";
import { html, svg } from "../svg";
import { Depth } from "./depth";
import { Hand } from "./hand";
import type { Grip } from "./hand";
import { drawGrid, drawPath, drawSupport } from "./ground";
import { Lettering } from "./lettering";
import type { Spot } from "./lettering";
import { Links, litLinks } from "./links";
import { AXES_ROOM, axesCorners, Notes } from "./notes";
import type { Instant } from "./pose";
import { footPaths, instantOf, shownInstant } from "./pose";
import { Sight } from "./sight";
import type { Aspect, View } from "./sight";
import { Pose, Vec } from "./space";
import { Strokes } from "./strokes";
import type { Pen } from "./strokes";

/** What is drawn beside the robot. */
export interface Layers {
  reach: boolean;
  forces: boolean;
  paths: boolean;
  /** Where links come nearest to each other. */
  gaps: boolean;
}

/** Draws only when something has changed. */
export class Figure {
  readonly sight = new Sight();
  readonly layers: Layers = { reach: false, forces: true, paths: true, gaps: true };
  /** Told when the eye has moved. */
  onSight: () => void = () => undefined;
  /** Pictures drawn since the page was opened. */
  drawn = 0;
  /** Who takes what is pulled; null: dragging only turns the figure. */
  grip: Grip | null = null;
  /** Draws the ground instead of the level grid; set by the view that knows it. */
  terrain: ((strokes: Strokes, pen: Pen) => void) | null = null;
  private readonly canvas = html("canvas", { class: "ink3d", "aria-hidden": "true" });
  private readonly paper = svg("svg", { class: "notes", "aria-hidden": "true" });
  private readonly notes: Notes;
  private readonly ink: CanvasRenderingContext2D | null;
  private readonly depth = new Depth();
  private readonly strokes = new Strokes(this.depth);
  private colours = palette();
  private links: Links | null = null;
  private ghost: Links | null = null;
  private source: (() => Instant | null) | null = null;
  /** What the source shows, in words for the ruler. */
  private words = "";
  private asked = false;
  private fitted = false;
  private axes: Spot = { x: 56, y: 116 };
  private ratio = 1;
  /** Read when it changes, not with each picture: reading lays the whole page out. */
  private size: readonly [number, number] = [0, 0];

  constructor(
    readonly place: HTMLElement,
    private readonly store: Store,
    private readonly cursor: Cursor,
  ) {
    place.append(this.canvas, this.paper);
    this.notes = new Notes(this.paper);
    this.ink = this.canvas.getContext("2d");
    store.listen(["shape", "welcome"], () => this.reshape());
    store.listen(["cycle", "reach", "finding", "verdict", "pulled", "nearness", "link"], () => this.change());
    cursor.listen(() => this.change());
    onTheme(() => {
      this.colours = palette();
      this.change();
    });
    void document.fonts.ready.then(() => this.change());
    document.fonts.addEventListener("loadingdone", () => this.change());
    new Hand(this, place);
    new ResizeObserver(() => this.resize()).observe(place);
  }

  /**
   * Show instants from elsewhere (a drag, a physics walk, a robot); where there is none, the cycle.
   * `words`: what they are of, where the cycle's cursor has no part in them.
   */
  follow(source: (() => Instant | null) | null, words = ""): void {
    this.source = source;
    this.words = words;
    this.change();
  }

  /** Something has changed: draw once, with the next picture. */
  change(): void {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.draw();
    });
  }

  /** Look at the robot in one of the sheet's views, as large as it goes. */
  look(aspect: Aspect): void {
    this.sight.take(aspect);
    this.onSight();
    this.fit();
  }

  /** As large as it goes. */
  fit(): void {
    if (this.links === null || this.pose() === null) return;
    const points = [...this.links.corners(), ...footPaths(this.store, this.cursor.phase).flat()];
    const [, high] = this.size; // a low picture has less to spare
    this.sight.fit(points, [Math.min(56, 0.12 * high), 52, Math.min(64, 0.17 * high), 52]);
    const seen = points.map((point) => this.sight.project(point));
    const free = ({ x, y }: Spot): boolean => seen.every((at) => Math.abs(at.x - x) > AXES_ROOM || Math.abs(at.y - y) > AXES_ROOM);
    const corners = axesCorners(this.size);
    this.axes = corners.find(free) ?? corners[0] ?? this.axes;
    this.fitted = true;
    this.change();
  }

  /** The eye has moved. */
  seen(): void {
    this.onSight();
    this.change();
  }

  /** Name what could be taken hold of; empty: nothing. */
  hint(name: string): void {
    this.place.title = name === "" ? "" : `pull ${name}`;
  }

  /** Where the feet are drawn. */
  feet(): { leg: string; at: Vec }[] {
    const instant = this.instant();
    if (instant === null || this.store.welcome === null) return [];
    const body = Pose.at(instant.body);
    return Object.keys(this.store.welcome.legs).map((leg, i) => ({ leg, at: this.foot(leg, i, instant, body) }));
  }

  /** What is shown now. */
  instant(): Instant | null {
    return this.source?.() ?? shownInstant(this.store, this.cursor.phase);
  }

  /** The links as they are placed now. */
  get placed(): Links | null {
    return this.links;
  }

  /** The link whose face lies at a place of the picture [px], and the point that is touched. */
  touched(x: number, y: number): { link: string; point: Vec } | null {
    const found = this.depth.at(x, y);
    if (found === null || this.links === null) return null;
    return { link: this.links.link(found.owner), point: this.sight.place(x, y, found.z) };
  }

  private resize(): void {
    const { clientWidth: width, clientHeight: height } = this.place;
    if (width === 0 || height === 0) return;
    this.size = [width, height];
    this.ratio = Math.min(devicePixelRatio, 2);
    this.canvas.width = Math.round(width * this.ratio);
    this.canvas.height = Math.round(height * this.ratio);
    this.depth.resize(width, height);
    this.paper.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.sight.resize(width, height);
    if (this.sight.aspect !== null) this.fit();
    this.change();
  }

  private reshape(): void {
    const { welcome, shape } = this.store;
    if (welcome === null || shape.now === null) return;
    this.links = this.renewed(this.links, shape.now, welcome.legs);
    this.ghost = this.renewed(this.ghost, shape.before, welcome.legs);
    this.change();
  }

  private renewed(old: Links | null, shape: Shape | null, legs: Record<string, string[]>): Links | null {
    if (old !== null && old.shape === shape) return old;
    return shape === null ? null : new Links(shape, legs);
  }

  /** The robot as it was before, where it differs and nothing else is shown. */
  private drawBefore(view: View): void {
    const { ghost, store, cursor } = this;
    const differs = (store.edits?.list.length ?? 0) > 0 || (store.welcome?.compared ?? "") !== "";
    const cycle = store.cycle.before;
    if (ghost === null || !differs || cycle === null || this.source !== null) return;
    const { body, q } = instantOf(cycle, cursor.phase);
    ghost.place(Pose.at(body), q);
    ghost.see(view);
    ghost.ghost(this.strokes, this.colours);
  }

  private pose(): Instant | null {
    const instant = this.instant();
    if (instant !== null) this.links?.place(Pose.at(instant.body), instant.q);
    return instant;
  }

  private draw(): void {
    const { links } = this;
    const instant = this.pose();
    this.cursor.rest(this.words !== "" && this.source?.() ? this.words : "");
    if (links === null || instant === null) return;
    if (!this.fitted && this.size[0] > 0) {
      this.fit();
      return;
    }
    const body = Pose.at(instant.body);
    const legs = this.store.welcome ? Object.keys(this.store.welcome.legs) : [];
    const feet = legs.map((leg, i) => this.foot(leg, i, instant, body));
    const lifted = new Set(legs.filter((_, i) => instant.contact !== undefined && !instant.contact[i]));
    const lit = litLinks(links, this.store);
    const view = this.sight.view();
    links.see(view);
    this.depth.clear(view.scale);
    links.cover(this.depth);
    this.strokes.begin(view);
    this.drawGround(instant, body, feet);
    this.drawBefore(view);
    links.ink(this.strokes, this.colours, lifted, lit, this.store.opened?.verdict === "fail");
    this.paint(links, lit);
    if (this.ink !== null) {
      const about = { store: this.store, sight: this.sight, links, instant, body, legs, feet, lifted, covered: this.covered(links, legs, feet), solid: (x: number, y: number) => this.depth.at(x, y)?.owner ?? 0, layers: this.layers, size: this.size, axes: this.axes, phase: this.source?.() ? null : this.cursor.phase };
      this.notes.draw(about, new Lettering(this.ink, this.colours));
    }
    this.drawn += 1;
  }

  /** Legs whose foot another leg or the body stands before. */
  private covered(links: Links, legs: readonly string[], feet: readonly Vec[]): Set<string> {
    return new Set(legs.filter((leg, i) => {
      const foot = feet[i];
      if (!foot) return false;
      const { x, y, z } = this.sight.project(foot);
      const there = this.depth.at(x, y);
      return there !== null && there.z > z && links.leg(links.link(there.owner)) !== leg;
    }));
  }

  private paint(links: Links, lit: ReadonlySet<string>): void {
    const { ink, ratio, size: [width, height] } = this;
    if (ink === null) return;
    ink.setTransform(ratio, 0, 0, ratio, 0, 0);
    ink.clearRect(0, 0, width, height);
    if (lit.size > 0) {
      ink.fillStyle = this.colours.tint;
      this.depth.runs(links.numbers(lit), (x, y, long) => ink.fillRect(x, y, long, 1));
    }
    this.strokes.paint(ink);
  }

  private foot(leg: string, i: number, instant: Instant, body: Pose): Vec {
    const { feet } = instant;
    if (feet !== undefined) {
      return body.point(Vec.of(feet, 3 * i));
    }
    const [link, offset] = this.links?.shape.feet[leg] ?? ["", [0, 0, 0]];
    const pose = this.links?.tree.links.get(link);
    const point = Vec.of(offset);
    return pose ? pose.point(point) : point;
  }

  private drawGround(instant: Instant, body: Pose, feet: readonly Vec[]): void {
    const { strokes: ground, sight, colours } = this;
    const w = colours.weight;
    const centre = body.origin;
    const pen = { width: 0.75 * w, colour: colours.hair };
    if (this.terrain !== null) this.terrain(ground, pen);
    else drawGrid(ground, centre, 0.7, pen);
    const cycle = this.store.cycle.now;
    const wanted = cycle?.header.limits.margin ?? 0;
    const corners: Vec[] = [];
    for (let i = 0; i < feet.length; i += 1) {
      const leg = instant.support?.[i] ?? -1;
      const foot = feet[leg];
      if (leg >= 0 && foot) corners.push(new Vec(foot.x, foot.y, 0));
    }
    const com = instant.com ? body.point(Vec.of(instant.com)) : null;
    drawSupport(ground, corners, com, wanted, sight.scale, colours);
    if (this.layers.paths && this.source === null) {
      for (const path of footPaths(this.store, this.cursor.phase)) {
        drawPath(ground, path, { width: w, colour: colours.ink2, dash: 16 * w, gap: 3 * w }, sight.scale, true);
      }
    }
    if (this.layers.reach && this.source === null) this.drawReach(body, w);
  }

  /** What each leg reaches, in its own plane, as the server has it. */
  private drawReach(body: Pose, w: number): void {
    const reach = this.store.reach.now;
    if (reach === null) return;
    for (const [leg, hip] of Object.entries(reach.header.hips)) {
      const outline = reach.arrays[leg];
      const [ox, oy] = reach.header.outward[leg] ?? [0, 0];
      if (!outline) continue;
      const points = Array.from({ length: outline.length / 2 }, (_, i) => {
        const [far = 0, high = 0] = [outline[2 * i], outline[2 * i + 1]];
        return body.point(new Vec(hip[0] + ox * far, hip[1] + oy * far, high));
      });
      drawPath(this.strokes, points, { width: w, colour: this.colours.ink2 }, 1, true);
    }
  }

}
