// The driven robot as the figure shows it: joints as read, upright as it feels, on its own odometry.
import { Matrix4, Quaternion, Vector3 } from "three";
import type { Instant } from "../figure/pose";
import type { State } from "./robot_wire";

/** Place of the body, heading included, as the robot believes [m, rad]. */
export function believed(state: State | null): [number, number, number] {
  const [x, y, yaw] = state?.place ?? [];
  return [x ?? 0, y ?? 0, yaw ?? 0];
}

/** The newest state as an instant; the body stays in the middle, its nose stays ahead. */
export function drivenInstant(state: State | null, joints: number): Instant | null {
  if (state?.q === undefined || state.q.length !== joints) return null;
  const up = new Vector3(...((state.up ?? [0, 0, 1]).map((value) => value ?? 0) as [number, number, number]));
  const lean = new Quaternion().setFromUnitVectors(up.lengthSq() > 1e-6 ? up.normalize() : new Vector3(0, 0, 1), new Vector3(0, 0, 1));
  const turn = new Matrix4().makeRotationFromQuaternion(lean);
  const feet = state.feet ?? [];
  const heights = feet.map((foot) => new Vector3(foot[0] ?? 0, foot[1] ?? 0, foot[2] ?? 0).applyMatrix4(turn).z);
  const height = heights.length > 0 ? -Math.min(...heights) : 0;
  const instant: Instant = {
    q: state.q.map((value) => value ?? 0),
    body: [0, 0, height, lean.w, lean.x, lean.y, lean.z],
  };
  if (state.contact !== undefined && state.mode !== "limp") instant.contact = state.contact.map(Number);
  if (feet.length > 0) instant.feet = feet.flatMap((foot) => [0, 1, 2].map((i) => foot[i] ?? 0));
  const { force } = state;
  if (force?.every((value) => value !== null)) instant.force = force.flatMap((value) => [0, 0, Math.max(value ?? 0, 0)]);
  if (typeof state.margin === "number") instant.margin = state.margin;
  return instant;
}
