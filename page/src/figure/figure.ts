// The figure: the robot as a line drawing, and all that is drawn around it.
import { LinearSRGBColorSpace, Matrix4, Scene, Vector2, Vector3, WebGLRenderer } from "three";
import type { Cursor } from "../cursor";
import { onTheme, palette } from "../look";
import type { Store } from "../store";
import type { Shape } from "../wire";
import { html, svg } from "../svg";
import { Hand } from "./hand";
import type { Grip } from "./hand";
import { drawGrid, drawPath, drawSupport } from "./ground";
import { Links } from "./links";
import { fromBody } from "./matrix";
import { Notes } from "./notes";
import type { Instant } from "./pose";
import { instantOf, shownInstant } from "./pose";
import { Sight } from "./sight";
import type { Aspect } from "./sight";
import { Strokes } from "./strokes";
import type { Pen } from "./strokes";

/** What is drawn beside the robot. */
export interface Layers {
  reach: boolean;
  forces: boolean;
  paths: boolean;
}

/** Draws only when something has changed. */
export class Figure {
  readonly sight = new Sight();
  readonly layers: Layers = { reach: false, forces: true, paths: true };
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
  private readonly scene = new Scene();
  private readonly screen = new Vector2(1, 1);
  private readonly ground = new Strokes(this.screen, 0);
  private renderer: WebGLRenderer | null = null;
  private colours = palette();
  private links: Links | null = null;
  private ghost: Links | null = null;
  private source: (() => Instant | null) | null = null;
  private asked = false;
  private fitted = false;
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
    this.open();
    this.scene.matrixWorldAutoUpdate = true;
    this.scene.add(this.ground.mesh);
    store.listen(["shape", "welcome"], () => this.reshape());
    store.listen(["cycle", "reach", "finding", "verdict", "pulled", "link"], () => this.change());
    cursor.listen(() => this.change());
    onTheme(() => {
      this.colours = palette();
      this.change();
    });
    new Hand(this, place);
    new ResizeObserver(() => this.resize()).observe(place);
  }

  /** Show instants from elsewhere (a drag, a physics walk, a robot); where there is none, the cycle. */
  follow(source: (() => Instant | null) | null): void {
    this.source = source;
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
    if (this.links === null) return;
    this.pose();
    this.sight.fit([...this.links.corners(), ...this.pathPoints()], [56, 40, 64, 40]);
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
  feet(): { leg: string; at: Vector3 }[] {
    const instant = this.instant();
    if (instant === null || this.store.welcome === null) return [];
    const body = fromBody(instant.body);
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

  private open(): void {
    try {
      this.renderer = new WebGLRenderer({ canvas: this.canvas, antialias: false, alpha: true, powerPreference: "low-power" });
      this.renderer.outputColorSpace = LinearSRGBColorSpace;
      this.renderer.sortObjects = true;
      this.canvas.addEventListener("webglcontextrestored", () => this.change());
    } catch {
      this.place.append(
        html("p", { class: "say" }, "This browser draws no WebGL, so the figure stays empty. All numbers hold; try another browser or switch its hardware drawing on."),
      );
    }
  }

  private resize(): void {
    const { clientWidth: width, clientHeight: height } = this.place;
    if (width === 0 || height === 0) return;
    this.size = [width, height];
    this.ratio = Math.min(devicePixelRatio, 2);
    this.renderer?.setPixelRatio(this.ratio);
    this.renderer?.setSize(width, height, false);
    this.screen.set(width * this.ratio, height * this.ratio);
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
    if (old !== null) {
      this.scene.remove(old.group);
      old.dispose();
    }
    if (shape === null) return null;
    const links = new Links(shape, legs, this.screen);
    this.scene.add(links.group);
    return links;
  }

  /** The robot as it was before, where it differs and nothing else is shown. */
  private drawBefore(): void {
    const { ghost, store, cursor } = this;
    if (ghost === null) return;
    const differs = (store.edits?.list.length ?? 0) > 0 || (store.welcome?.compared ?? "") !== "";
    const cycle = store.cycle.before;
    ghost.group.visible = differs && cycle !== null && this.source === null;
    if (!ghost.group.visible || cycle === null) return;
    const { body, q } = instantOf(cycle, cursor.phase);
    ghost.place(fromBody(body), q);
    ghost.ghost(this.colours, this.ratio);
  }

  private pose(): Instant | null {
    const instant = this.instant();
    if (instant !== null) this.links?.place(fromBody(instant.body), instant.q);
    return instant;
  }

  private draw(): void {
    const { links, renderer } = this;
    const instant = this.pose();
    if (links === null || instant === null) return;
    if (!this.fitted && this.size[0] > 0) {
      this.fit();
      return;
    }
    const body = fromBody(instant.body);
    const legs = this.store.welcome ? Object.keys(this.store.welcome.legs) : [];
    const feet = legs.map((leg, i) => this.foot(leg, i, instant, body));
    const lifted = new Set(legs.filter((_, i) => instant.contact !== undefined && !instant.contact[i]));
    links.style(this.colours, this.ratio, lifted, this.litLinks());
    this.drawBefore();
    this.drawGround(instant, body, feet);
    if (renderer !== null) {
      this.scene.updateMatrixWorld(false);
      renderer.setClearColor(this.colours.sheet, 0);
      renderer.render(this.scene, this.sight.camera);
    }
    this.notes.draw({
      store: this.store, sight: this.sight, links, instant, body, legs, feet, lifted,
      layers: this.layers, size: this.size,
    });
    this.drawn += 1;
  }

  private foot(leg: string, i: number, instant: Instant, body: Matrix4): Vector3 {
    const { feet } = instant;
    if (feet !== undefined) {
      return new Vector3(feet[3 * i], feet[3 * i + 1], feet[3 * i + 2]).applyMatrix4(body);
    }
    const [link, offset] = this.links?.shape.feet[leg] ?? ["", [0, 0, 0]];
    const pose = this.links?.tree.links.get(link);
    const point = new Vector3(...offset);
    return pose ? point.applyMatrix4(pose) : point;
  }

  private drawGround(instant: Instant, body: Matrix4, feet: readonly Vector3[]): void {
    const { ground, sight, ratio, colours } = this;
    const w = ratio * colours.weight;
    ground.clear();
    const centre = new Vector3().setFromMatrixPosition(body);
    const pen = { width: 0.75 * w, colour: colours.hair };
    if (this.terrain !== null) this.terrain(ground, pen);
    else drawGrid(ground, centre, 0.7, pen);
    const cycle = this.store.cycle.now;
    const wanted = cycle?.header.limits.margin ?? 0;
    const corners: Vector3[] = [];
    for (let i = 0; i < feet.length; i += 1) {
      const leg = instant.support?.[i] ?? -1;
      const foot = feet[leg];
      if (leg >= 0 && foot) corners.push(new Vector3(foot.x, foot.y, 0));
    }
    const com = instant.com ? new Vector3(instant.com[0], instant.com[1], instant.com[2]).applyMatrix4(body) : null;
    drawSupport(ground, corners, com, wanted, sight.scale * ratio, ratio, colours);
    if (this.layers.paths && this.source === null) {
      for (const path of this.paths()) {
        drawPath(ground, path, { width: w, colour: colours.ink2, dash: 16 * w, gap: 3 * w }, sight.scale * ratio, true);
      }
    }
    if (this.layers.reach && this.source === null) this.drawReach(body, w);
    ground.flush();
  }

  /** What each leg reaches, in its own plane, as the server has it. */
  private drawReach(body: Matrix4, w: number): void {
    const reach = this.store.reach.now;
    if (reach === null) return;
    for (const [leg, hip] of Object.entries(reach.header.hips)) {
      const outline = reach.arrays[leg];
      const [ox, oy] = reach.header.outward[leg] ?? [0, 0];
      if (!outline) continue;
      const points = Array.from({ length: outline.length / 2 }, (_, i) => {
        const [far = 0, high = 0] = [outline[2 * i], outline[2 * i + 1]];
        return new Vector3(hip[0] + ox * far, hip[1] + oy * far, high).applyMatrix4(body);
      });
      drawPath(this.ground, points, { width: w, colour: this.colours.ink2 }, 1, true);
    }
  }

  private paths(): Vector3[][] {
    const cycle = this.store.cycle.now;
    const feet = cycle?.arrays["feet"];
    const bodies = cycle?.arrays["body"];
    if (!cycle || !feet || !bodies) return [];
    // Paths are drawn as the body sees them, at the body of the instant that is shown.
    const legs = cycle.header.legs.length;
    const count = feet.length / legs / 3;
    const body = fromBody(instantOf(cycle, this.cursor.phase).body);
    return cycle.header.legs.map((_, leg) =>
      Array.from({ length: count }, (_, t) =>
        new Vector3().fromArray(feet, (t * legs + leg) * 3).applyMatrix4(body),
      ),
    );
  }

  private pathPoints(): Vector3[] {
    return this.paths().flat();
  }

  private litLinks(): Set<string> {
    const found = this.store.opened;
    const lit = new Set<string>();
    const { links, store } = this;
    if (found === null || links === null) return lit;
    for (const part of found.parts) {
      const joint = links.shape.joints.find((each) => each.name === part);
      if (joint) lit.add(joint.child);
      else if (links.shape.links.includes(part)) lit.add(part);
      else if (store.welcome?.legs[part]) {
        for (const link of links.shape.links) if (links.leg(link) === part) lit.add(link);
      }
    }
    return lit;
  }
}
