// What the figure shows: one instant of the robot, wherever it comes from.
import type { Kept, Store } from "../store";
import type { Cycle } from "../wire";
import { Pose, Vec } from "./space";

/** One instant. Arrays may be views; they are read at once. */
export interface Instant {
  /** Along `Welcome.joints` [rad]. */
  q: ArrayLike<number>;
  /** Body frame in the ground frame: x, y, z [m], quaternion w, x, y, z. */
  body: ArrayLike<number>;
  /** Per leg: whether its foot is on the ground; none: not known. */
  contact?: ArrayLike<number>;
  /** Ground on foot, body axes (L, 3) [N]. */
  force?: ArrayLike<number>;
  /** Foot points, body frame (L, 3) [m]. */
  feet?: ArrayLike<number>;
  /** Centre of mass, body frame [m]. */
  com?: ArrayLike<number>;
  /** Legs at the corners of the support polygon, then −1. */
  support?: ArrayLike<number>;
  /** Static stability margin [m]. */
  margin?: number;
}

function row(array: Float32Array | undefined, i: number, width: number): Float32Array | undefined {
  return array?.subarray(i * width, (i + 1) * width);
}

/** Sample of a cycle that lies nearest to a phase. */
export function sampleAt(cycle: Kept<Cycle>, phase: number): number {
  const count = cycle.arrays["t"]?.length ?? 1;
  return Math.round(phase * count) % count;
}

/** The cycle at a phase. */
export function instantOf(cycle: Kept<Cycle>, phase: number): Instant {
  const { arrays, header } = cycle;
  const i = sampleAt(cycle, phase);
  const legs = header.legs.length;
  const instant: Instant = {
    q: row(arrays["q"], i, header.joints.length) ?? new Float32Array(header.joints.length),
    body: row(arrays["body"], i, 7) ?? [0, 0, 0, 1, 0, 0, 0],
  };
  const maybe = {
    contact: row(arrays["contact"], i, legs),
    force: row(arrays["force"], i, legs * 3),
    feet: row(arrays["feet"], i, legs * 3),
    com: row(arrays["com"], i, 3),
    support: row(arrays["support"], i, legs),
    margin: arrays["margin"]?.[i],
  };
  for (const [name, value] of Object.entries(maybe)) {
    if (value !== undefined) Object.assign(instant, { [name]: value });
  }
  return instant;
}

/** What is so at the cursor, of the edited robot; null before anything was heard. */
export function shownInstant(store: Store, phase: number): Instant | null {
  return store.cycle.now === null ? null : instantOf(store.cycle.now, phase);
}

/** Ways of the feet over the cycle as the body sees them, at the body of the instant that is shown. */
export function footPaths(store: Store, phase: number): Vec[][] {
  const cycle = store.cycle.now, feet = cycle?.arrays["feet"];
  if (!cycle || !feet || !cycle.arrays["body"]) return [];
  const legs = cycle.header.legs.length, count = feet.length / legs / 3;
  const body = Pose.at(instantOf(cycle, phase).body);
  return cycle.header.legs.map((_, leg) => Array.from({ length: count }, (_, t) => body.point(Vec.of(feet, (t * legs + leg) * 3))));
}
