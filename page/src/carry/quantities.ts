// What can be plotted over the cycle, joint by joint.
import type { Kept } from "../store";
import type { Cycle } from "../wire";
import type { Series } from "./plot";

export const KELVIN = 273.15;

/** One kind of plot. */
export interface Quantity {
  word: string;
  unit: string;
  /** The series of a joint. */
  of(cycle: Kept<Cycle>, joint: number): Float32Array;
  most(cycle: Kept<Cycle>, joint: number): Float32Array | number | null;
  least(cycle: Kept<Cycle>, joint: number): Float32Array | number | null;
  /** Whether the axis begins at zero. */
  zero: boolean;
}

/** Column `joint` of a (T,J) array. */
export function column(cycle: Kept<Cycle>, name: string, joint: number, change: (v: number) => number = (v) => v): Float32Array {
  const rows = cycle.arrays[name], J = cycle.header.joints.length;
  if (rows === undefined || rows.length === 0) return new Float32Array(2).fill(NaN);
  const T = rows.length / J, found = new Float32Array(T);
  for (let t = 0; t < T; t += 1) found[t] = change(rows[t * J + joint] ?? NaN);
  return found;
}

const degrees = (v: number): number => (v * 180) / Math.PI;
const inDegrees = (v: number | null | undefined): number | null => (v === null || v === undefined ? null : degrees(v));

export const QUANTITIES: readonly Quantity[] = [
  {
    word: "torque", unit: "N·m", zero: true,
    of: (c, j) => column(c, "torque", j, Math.abs),
    most: (c, j) => column(c, "available", j),
    least: () => null,
  },
  {
    word: "speed", unit: "rad/s", zero: true,
    of: (c, j) => column(c, "speed", j, Math.abs),
    most: (c, j) => c.header.limits.speed[j] ?? null,
    least: () => null,
  },
  {
    word: "current", unit: "A", zero: true,
    of: (c, j) => column(c, "current", j),
    most: () => null,
    least: () => null,
  },
  {
    word: "voltage", unit: "V", zero: false,
    of: (c, j) => column(c, "voltage", j),
    most: () => null,
    least: (c, j) => c.header.limits.voltage[j] ?? null,
  },
  {
    word: "heat", unit: "W", zero: true,
    of: (c, j) => column(c, "heat", j),
    most: () => null,
    least: () => null,
  },
  {
    word: "angle", unit: "°", zero: false,
    of: (c, j) => column(c, "q", j, degrees),
    most: (c, j) => inDegrees(c.header.limits.upper[j]),
    least: (c, j) => inDegrees(c.header.limits.lower[j]),
  },
];

/** Everything that one plot needs. */
export function seriesOf(quantity: Quantity, now: Kept<Cycle>, before: Kept<Cycle> | null, joint: number): Series {
  const alike = before !== null && before.header.joints.length === now.header.joints.length;
  return {
    now: quantity.of(now, joint),
    before: alike ? quantity.of(before, joint) : null,
    most: quantity.most(now, joint),
    least: quantity.least(now, joint),
  };
}

/** A range that holds several series, and near limits too. */
export function range(all: readonly Series[], zero: boolean): [number, number] {
  let low = Infinity, high = -Infinity;
  const take = (values: Float32Array | null): void => {
    for (const value of values ?? []) {
      if (!Number.isFinite(value)) continue;
      low = Math.min(low, value);
      high = Math.max(high, value);
    }
  };
  for (const each of all) {
    take(each.now);
    take(each.before);
  }
  if (low > high) return [0, 1];
  if (zero) low = Math.min(0, low);
  const span = high - low || Math.abs(high) || 1;
  for (const each of all) {
    for (const [limit, sign] of [[each.most, 1], [each.least, -1]] as const) {
      if (limit === null) continue;
      const values = typeof limit === "number" ? [limit] : [...limit].filter(Number.isFinite);
      if (values.length === 0) continue;
      const edge = sign > 0 ? Math.min(...values) : Math.max(...values);
      if (sign > 0 && edge < high + 1.5 * span) high = Math.max(high, edge + 0.12 * span);
      if (sign < 0 && edge > low - 1.5 * span) low = Math.min(low, edge - 0.12 * span);
    }
  }
  return [low - (zero ? 0 : 0.04 * span), high + 0.06 * span];
}
