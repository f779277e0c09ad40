// The driven robot as the figure shows it: joints as read, upright as it feels, on its own odometry.
import type { Instant } from "../figure/pose";
import { Pose, Vec } from "../figure/space";
import type { State } from "./robot_wire";

/** Place of the body, heading included, as the robot believes [m, rad]. */
export function believed(state: State | null): [number, number, number] {
  const [x, y, yaw] = state?.place ?? [];
  return [x ?? 0, y ?? 0, yaw ?? 0];
}

/** The newest state as an instant; the body stays in the middle, its nose stays ahead. */
export function drivenInstant(state: State | null, joints: number): Instant | null {
  if (state?.q === undefined || state.q.length !== joints) return null;
  const lean = upright(Vec.of((state.up ?? [0, 0, 1]).map((value) => value ?? 0)));
  const turn = Pose.at([0, 0, 0, ...lean]);
  const feet = state.feet ?? [];
  const heights = feet.map((foot) => turn.way(new Vec(foot[0] ?? 0, foot[1] ?? 0, foot[2] ?? 0)).z);
  const height = heights.length > 0 ? -Math.min(...heights) : 0;
  const instant: Instant = {
    q: state.q.map((value) => value ?? 0),
    body: [0, 0, height, ...lean],
  };
  if (state.contact !== undefined && state.mode !== "limp") instant.contact = state.contact.map(Number);
  if (feet.length > 0) instant.feet = feet.flatMap((foot) => [0, 1, 2].map((i) => foot[i] ?? 0));
  const { force } = state;
  if (force?.every((value) => value !== null)) instant.force = force.flatMap((value) => [0, 0, Math.max(value ?? 0, 0)]);
  if (typeof state.margin === "number") instant.margin = state.margin;
  return instant;
}

/** The shortest turn that brings a direction upright, as a quaternion w, x, y, z; nothing known: none. */
function upright(up: Vec): [number, number, number, number] {
  if (up.length < 1e-3) return [1, 0, 0, 0];
  const { x, y, z } = up.unit();
  if (z < -0.999999) return [0, 1, 0, 0];
  const long = Math.sqrt(2 + 2 * z);
  return [long / 2, y / long, -x / long, 0];
}
