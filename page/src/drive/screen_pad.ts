// A pad on the screen for tablets: pressed is the deadman, where it is pressed is the way.
import { html, svg } from "../svg";
import { NOTHING } from "./wish";
import type { Wish } from "./wish";

const SIZE = 176;
const TURN = 44;

/** Pad and turn bar; two fingers may hold both. */
export class ScreenPad {
  readonly element: HTMLElement;
  private way: readonly [number, number] | null = null;
  private turning: number | null = null;
  private readonly dot = svg("circle", { class: "stick", r: 14, cx: SIZE / 2, cy: SIZE / 2 });
  private readonly knob = svg("circle", { class: "stick", r: 14, cx: SIZE / 2, cy: TURN / 2 });

  constructor(private readonly moved: () => void) {
    const half = SIZE / 2;
    const field = svg("svg", { class: "pad-field", viewBox: `0 0 ${SIZE} ${SIZE}`, width: SIZE, height: SIZE, role: "img", "aria-label": "Press and hold to walk: up is forward, left is to the left. With keys: hold Shift and press arrows." },
      svg("rect", { x: 1, y: 1, width: SIZE - 2, height: SIZE - 2, class: "edge" }),
      svg("path", { class: "cross", d: `M${half} 12V${SIZE - 12}M12 ${half}H${SIZE - 12}` }),
      svg("text", { x: half + 6, y: 22 }, "forward"), svg("text", { x: 10, y: half - 6 }, "left"), this.dot);
    const bar = svg("svg", { class: "pad-field", viewBox: `0 0 ${SIZE} ${TURN}`, width: SIZE, height: TURN, role: "img", "aria-label": "Press and hold to turn. With keys: hold Shift and press left or right." },
      svg("rect", { x: 1, y: 1, width: SIZE - 2, height: TURN - 2, class: "edge" }),
      svg("path", { class: "cross", d: `M${half} 8V${TURN - 8}M12 ${TURN / 2}H${SIZE - 12}` }),
      svg("text", { x: 8, y: 15 }, "turn left"), svg("text", { x: SIZE - 8, y: 15, "text-anchor": "end" }, "right"), this.knob);
    this.element = html("div", { class: "screen-pad" }, field, bar);
    this.hear(field, SIZE, SIZE, (x, y) => (this.way = [-y, -x]), () => (this.way = null));
    this.hear(bar, SIZE, TURN, (x) => (this.turning = -x), () => (this.turning = null));
  }

  /** Let go. */
  release(): void {
    this.way = null;
    this.turning = null;
    this.draw();
  }

  get wish(): Wish {
    if (this.way === null && this.turning === null) return NOTHING;
    const [forward, left] = this.way ?? [0, 0];
    return { held: true, twist: [dead(forward), dead(left), dead(this.turning ?? 0)], by: "screen" };
  }

  private hear(field: SVGSVGElement, wide: number, high: number, take: (x: number, y: number) => void, leave: () => void): void {
    const at = (event: PointerEvent): void => {
      const box = field.getBoundingClientRect();
      const share = (value: number, size: number): number => Math.max(-1, Math.min(1, (2 * value) / size - 1));
      take(share(event.clientX - box.left, (wide * box.width) / wide), share(event.clientY - box.top, (high * box.height) / high));
      this.draw();
    };
    field.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      field.setPointerCapture(event.pointerId);
      at(event);
    });
    field.addEventListener("pointermove", (event) => {
      if (field.hasPointerCapture(event.pointerId)) at(event);
    });
    for (const name of ["pointerup", "pointercancel", "lostpointercapture"] as const) {
      field.addEventListener(name, () => {
        leave();
        this.draw();
      });
    }
  }

  private draw(): void {
    const [forward, left] = this.way ?? [0, 0];
    const reach = SIZE / 2 - 16;
    this.dot.setAttribute("cx", String(SIZE / 2 - left * reach));
    this.dot.setAttribute("cy", String(SIZE / 2 - forward * reach));
    this.knob.setAttribute("cx", String(SIZE / 2 - (this.turning ?? 0) * reach));
    this.element.classList.toggle("held", this.wish.held);
    this.moved();
  }
}

/** The middle of the pad counts as nothing. */
function dead(value: number): number {
  const size = Math.max(0, (Math.abs(value) - 0.12) / 0.88);
  return value < 0 ? -size : size;
}
