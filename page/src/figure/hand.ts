// Hands on the figure: turn, shift and enlarge it; take hold of a foot, the body or a joint.
import { Matrix4, Raycaster, Vector2, Vector3 } from "three";
import type { Figure } from "./figure";

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
  | { what: "foot"; name: string; from: Vector3 }
  | { what: "body"; name: ""; from: Vector3 }
  | { what: "joint"; name: string; from: number; side: Vector2 };

const NEAR_PX = 22;
const TURN = 0.008; // rad a pixel
const KEY_TURN = Math.PI / 36;
const KEY_PAN = 40;

/** Listen to pointers and keys on the figure. */
export class Hand {
  private readonly pointers = new Map<number, Vector2>();
  private held: Held | null = null;
  private start = new Vector2();
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

  private at(event: PointerEvent | WheelEvent): Vector2 {
    const box = this.place.getBoundingClientRect();
    return new Vector2(event.clientX - box.left, event.clientY - box.top);
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
    const by = at.clone().sub(last);
    if (!this.moved && at.distanceTo(this.start) < 3) return;
    this.moved = true;
    const { sight } = this.figure;
    if (this.held !== null) {
      this.pull(at, event.shiftKey);
    } else if (this.pointers.size === 2) {
      const other = [...this.pointers].find(([id]) => id !== event.pointerId)?.[1] ?? at;
      const factor = at.distanceTo(other) / Math.max(last.distanceTo(other), 1);
      const middle = this.fromMiddle(at.clone().add(other).multiplyScalar(0.5));
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

  private fromMiddle(at: Vector2): Vector2 {
    return at.clone().sub(new Vector2(this.place.clientWidth, this.place.clientHeight).multiplyScalar(0.5));
  }

  private hover(event: PointerEvent): void {
    const held = this.under(this.at(event));
    this.place.classList.toggle("over", held !== null);
    this.figure.hint(held === null ? "" : held.what === "body" ? "body" : held.name);
  }

  /** The foot near a point of the picture, else the joint or body whose face lies there. */
  under(at: Vector2): Held | null {
    const { figure } = this;
    const feet = figure.feet().map(({ leg, at: place }) => {
      const { x, y } = figure.sight.project(place);
      return { leg, place, far: Math.hypot(x - at.x, y - at.y) };
    });
    feet.sort((a, b) => a.far - b.far);
    const [foot] = feet;
    if (foot && foot.far < NEAR_PX) return { what: "foot", name: foot.leg, from: foot.place.clone() };
    const links = figure.placed;
    if (links === null) return null;
    const caster = new Raycaster();
    const from = this.fromMiddle(at);
    const size = new Vector2(this.place.clientWidth / 2, this.place.clientHeight / 2);
    caster.setFromCamera(new Vector2(from.x / size.x, -from.y / size.y), figure.sight.camera);
    const touchable = links.touchable;
    const [hit] = caster.intersectObjects(touchable.map(({ mesh }) => mesh), false);
    if (hit === undefined) return null;
    const link = touchable.find(({ mesh }) => mesh === hit.object)?.link ?? "";
    const joint = links.shape.joints.find((each) => each.child === link && each.column >= 0);
    if (joint === undefined) {
      const body = links.tree.links.get(links.shape.body) ?? new Matrix4();
      return { what: "body", name: "", from: new Vector3().setFromMatrixPosition(body) };
    }
    const pose = links.tree.links.get(link) ?? new Matrix4();
    const axis = new Vector3(...joint.axis).transformDirection(pose);
    const arm = hit.point.clone().sub(new Vector3().setFromMatrixPosition(pose));
    const turned = axis.cross(arm); // how the point moves when the joint turns [m/rad]
    const { right, up } = figure.sight.axes();
    const side = new Vector2(turned.dot(right), -turned.dot(up)).multiplyScalar(figure.sight.scale);
    return { what: "joint", name: joint.name, from: figure.instant()?.q[joint.column] ?? 0, side };
  }

  private pull(at: Vector2, upright: boolean): void {
    const { held, figure } = this;
    const by = at.clone().sub(this.start);
    if (held === null || figure.grip === null) return;
    if (held.what === "joint") {
      const stiff = Math.max(held.side.lengthSq(), 25);
      figure.grip.pull({ what: "joint", name: held.name, to: [held.from + by.dot(held.side) / stiff] });
      return;
    }
    const shift = this.shift(by, upright);
    if (held.what === "foot") {
      const to = held.from.clone().add(shift);
      figure.grip.pull({ what: "foot", name: held.name, to: [to.x, to.y, to.z] });
    } else {
      figure.grip.pull({ what: "body", name: "", to: [shift.x, shift.y, shift.z, 0, 0, 0] });
    }
  }

  /** A way in the picture as one along the ground; upright, or seen from the side: in its plane. */
  private shift(by: Vector2, upright: boolean): Vector3 {
    const { sight } = this.figure;
    const { right, up, back } = sight.axes();
    if (upright) return new Vector3(0, 0, -by.y / sight.scale / Math.max(up.z, 0.2));
    if (back.z < 0.3) return sight.shift(by.x, by.y);
    const flat = new Vector3(up.x, up.y, 0);
    return right.clone().multiplyScalar(by.x / sight.scale)
      .addScaledVector(flat.normalize(), -by.y / sight.scale / back.z);
  }
}
