// Hands on the figure: turn, shift and enlarge it; take hold of a foot, the body or a joint.
import type { Figure } from "./figure";
import { Pose, Vec } from "./space";

/** What is held, and where it is pulled to. */
export type Pulling =
  | { what: "foot"; name: string; to: [number, number, number] }
  | { what: "body"; name: ""; to: [number, number, number, number, number, number] }
  | { what: "joint"; name: string; to: [number] };

/** Who wants to know what is pulled; set by the view that can do something about it. */
export interface Grip {
  /** It moves; `to` is in the ground frame [m], for a joint its position [rad]. */
  pull(pulling: Pulling): void;
  /** Let go. */
  release(): void;
}

/** What is under a pointer. */
export type Held =
  | { what: "foot"; name: string; from: Vec }
  | { what: "body"; name: ""; from: Vec }
  | { what: "joint"; name: string; from: number; side: Spot };

/** A place of the picture [px, y down], or a way in it. */
interface Spot {
  x: number;
  y: number;
}

const NEAR_PX = 22;
const TURN = 0.008; // rad a pixel
const KEY_TURN = Math.PI / 36;
const KEY_PAN = 40;

/** Listen to pointers and keys on the figure. */
export class Hand {
  private readonly pointers = new Map<number, Spot>();
  private held: Held | null = null;
  private start: Spot = { x: 0, y: 0 };
  private moved = false;

  constructor(private readonly figure: Figure, private readonly place: HTMLElement) {
    place.addEventListener("pointerdown", (event) => this.down(event));
    place.addEventListener("pointermove", (event) => this.move(event));
    for (const name of ["pointerup", "pointercancel"] as const) {
      place.addEventListener(name, (event) => this.up(event));
    }
    place.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    place.addEventListener("contextmenu", (event) => event.preventDefault());
    place.addEventListener("keydown", (event) => this.key(event));
  }

  private at(event: PointerEvent | WheelEvent): Spot {
    const box = this.place.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  private down(event: PointerEvent): void {
    if (event.target instanceof Element && event.target.closest("button")) return;
    const at = this.at(event);
    this.place.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, at);
    this.moved = false;
    this.start = at;
    const takes = this.figure.grip !== null && event.button === 0 && this.pointers.size === 1;
    this.held = takes ? this.under(at) : null;
    this.place.classList.toggle("pulling", this.held !== null);
  }

  private move(event: PointerEvent): void {
    const last = this.pointers.get(event.pointerId);
    if (last === undefined) {
      if (event.pointerType === "mouse" && this.figure.grip !== null) this.hover(event);
      return;
    }
    const at = this.at(event);
    const by = way(last, at);
    if (!this.moved && far(at, this.start) < 3) return;
    this.moved = true;
    const { sight } = this.figure;
    if (this.held !== null) {
      this.pull(at, event.shiftKey);
    } else if (this.pointers.size === 2) {
      const other = [...this.pointers].find(([id]) => id !== event.pointerId)?.[1] ?? at;
      const factor = far(at, other) / Math.max(far(last, other), 1);
      const middle = this.fromMiddle({ x: (at.x + other.x) / 2, y: (at.y + other.y) / 2 });
      sight.zoom(factor, middle.x, middle.y);
      sight.pan(by.x / 2, by.y / 2);
    } else if (event.buttons & 6 || event.ctrlKey) {
      sight.pan(by.x, by.y);
    } else {
      sight.orbit(-by.x * TURN, by.y * TURN);
    }
    this.pointers.set(event.pointerId, at);
    this.figure.seen();
  }

  private up(event: PointerEvent): void {
    this.pointers.delete(event.pointerId);
    if (this.held === null || this.pointers.size > 0) return;
    this.held = null;
    this.place.classList.remove("pulling");
    this.figure.grip?.release();
  }

  private wheel(event: WheelEvent): void {
    event.preventDefault();
    const from = this.fromMiddle(this.at(event));
    this.figure.sight.zoom(Math.exp(-event.deltaY * (event.deltaMode === 0 ? 0.0015 : 0.05)), from.x, from.y);
    this.figure.seen();
  }

  private key(event: KeyboardEvent): void {
    const { sight } = this.figure;
    const [x, y] = {
      ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
    }[event.key] ?? [0, 0];
    if (x !== 0 || y !== 0) {
      if (event.shiftKey) sight.pan(-(x ?? 0) * KEY_PAN, -(y ?? 0) * KEY_PAN);
      else sight.orbit((x ?? 0) * KEY_TURN, -(y ?? 0) * KEY_TURN);
    } else if (event.key === "+" || event.key === "=") {
      sight.zoom(1.2);
    } else if (event.key === "-") {
      sight.zoom(1 / 1.2);
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
    this.figure.seen();
  }

  private fromMiddle(at: Spot): Spot {
    return { x: at.x - this.place.clientWidth / 2, y: at.y - this.place.clientHeight / 2 };
  }

  private hover(event: PointerEvent): void {
    const held = this.under(this.at(event));
    this.place.classList.toggle("over", held !== null);
    this.figure.hint(held === null ? "" : held.what === "body" ? "body" : held.name);
  }

  /** The foot near a point of the picture, else the joint or body whose face lies there. */
  under(at: Spot): Held | null {
    const { figure } = this;
    const feet = figure.feet().map(({ leg, at: place }) => {
      const { x, y } = figure.sight.project(place);
      return { leg, place, far: Math.hypot(x - at.x, y - at.y) };
    });
    feet.sort((a, b) => a.far - b.far);
    const [foot] = feet;
    if (foot && foot.far < NEAR_PX) return { what: "foot", name: foot.leg, from: foot.place };
    const links = figure.placed;
    if (links === null) return null;
    const touched = figure.touched(at.x, at.y);
    if (touched === null) return null;
    const { link, point } = touched;
    const joint = links.shape.joints.find((each) => each.child === link && each.column >= 0);
    if (joint === undefined) {
      const body = links.tree.links.get(links.shape.body) ?? new Pose();
      return { what: "body", name: "", from: body.origin };
    }
    const pose = links.tree.links.get(link) ?? new Pose();
    const axis = pose.way(Vec.of(joint.axis)).unit();
    const turned = axis.cross(point.minus(pose.origin)); // how the point moves when the joint turns [m/rad]
    const { right, up } = figure.sight.axes();
    const { scale } = figure.sight;
    const side = { x: turned.dot(right) * scale, y: -turned.dot(up) * scale };
    return { what: "joint", name: joint.name, from: figure.instant()?.q[joint.column] ?? 0, side };
  }

  private pull(at: Spot, upright: boolean): void {
    const { held, figure } = this;
    const by = way(this.start, at);
    if (held === null || figure.grip === null) return;
    if (held.what === "joint") {
      const stiff = Math.max(held.side.x ** 2 + held.side.y ** 2, 25);
      figure.grip.pull({ what: "joint", name: held.name, to: [held.from + (by.x * held.side.x + by.y * held.side.y) / stiff] });
      return;
    }
    const shift = this.shift(by, upright);
    if (held.what === "foot") {
      const to = held.from.plus(shift);
      figure.grip.pull({ what: "foot", name: held.name, to: [to.x, to.y, to.z] });
    } else {
      figure.grip.pull({ what: "body", name: "", to: [shift.x, shift.y, shift.z, 0, 0, 0] });
    }
  }

  /** A way in the picture as one along the ground; upright, or seen from the side: in its plane. */
  private shift(by: Spot, upright: boolean): Vec {
    const { sight } = this.figure;
    const { right, up, back } = sight.axes();
    if (upright) return new Vec(0, 0, -by.y / sight.scale / Math.max(up.z, 0.2));
    if (back.z < 0.3) return sight.shift(by.x, by.y);
    const flat = new Vec(up.x, up.y, 0);
    return right.times(by.x / sight.scale).plus(flat.unit(), -by.y / sight.scale / back.z);
  }
}

function way(from: Spot, to: Spot): Spot {
  return { x: to.x - from.x, y: to.y - from.y };
}

function far(a: Spot, b: Spot): number {
  return Math.hypot(a.x - b.x, a.y - b.y);
}
