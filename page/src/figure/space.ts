// Points and poses in space: as much of them as a figure needs.

/** A point, or a way from one to another [m]. */
export class Vec {
  constructor(readonly x = 0, readonly y = 0, readonly z = 0) {}

  /** Three numbers of a row. */
  static of(row: ArrayLike<number>, at = 0): Vec {
    return new Vec(row[at] ?? 0, row[at + 1] ?? 0, row[at + 2] ?? 0);
  }

  /** This and so much of another. */
  plus(other: Vec, share = 1): Vec {
    return new Vec(this.x + share * other.x, this.y + share * other.y, this.z + share * other.z);
  }

  minus(other: Vec): Vec {
    return this.plus(other, -1);
  }

  times(factor: number): Vec {
    return new Vec(this.x * factor, this.y * factor, this.z * factor);
  }

  dot(other: Vec): number {
    return this.x * other.x + this.y * other.y + this.z * other.z;
  }

  cross(other: Vec): Vec {
    return new Vec(
      this.y * other.z - this.z * other.y,
      this.z * other.x - this.x * other.z,
      this.x * other.y - this.y * other.x,
    );
  }

  get length(): number {
    return Math.hypot(this.x, this.y, this.z);
  }

  /** Of length one; nothing stays nothing. */
  unit(): Vec {
    return this.times(1 / (this.length || 1));
  }

  list(): [number, number, number] {
    return [this.x, this.y, this.z];
  }
}

/** Where a frame lies in another: three rows of turn and shift. */
export class Pose {
  readonly rows = new Float64Array([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0]);

  /** Row by row, as it comes over the wire. */
  static of(sixteen: readonly number[]): Pose {
    const pose = new Pose();
    for (let i = 0; i < 12; i += 1) pose.rows[i] = sixteen[i] ?? 0;
    return pose;
  }

  /** From x, y, z [m] and a unit quaternion w, x, y, z. */
  static at(seven: ArrayLike<number>): Pose {
    const [x = 0, y = 0, z = 0, qw = 1, qx = 0, qy = 0, qz = 0] = Array.from(seven);
    const xx = qx * qx, yy = qy * qy, zz = qz * qz;
    const pose = new Pose();
    pose.rows.set([
      1 - 2 * (yy + zz), 2 * (qx * qy - qw * qz), 2 * (qx * qz + qw * qy), x,
      2 * (qx * qy + qw * qz), 1 - 2 * (xx + zz), 2 * (qy * qz - qw * qx), y,
      2 * (qx * qz - qw * qy), 2 * (qy * qz + qw * qx), 1 - 2 * (xx + yy), z,
    ]);
    return pose;
  }

  /** Take over another's numbers. */
  copy(other: Pose): this {
    this.rows.set(other.rows);
    return this;
  }

  /** One after the other, written into this. */
  product(a: Pose, b: Pose): this {
    const { rows: p } = a, { rows: q } = b, out = this.rows;
    for (let i = 0; i < 12; i += 4) {
      const [x, y, z, w] = [p[i] ?? 0, p[i + 1] ?? 0, p[i + 2] ?? 0, p[i + 3] ?? 0];
      for (let k = 0; k < 4; k += 1) PART[k] = x * (q[k] ?? 0) + y * (q[4 + k] ?? 0) + z * (q[8 + k] ?? 0) + (k === 3 ? w : 0);
      BUFFER.set(PART, i);
    }
    out.set(BUFFER);
    return this;
  }

  /** Turn by an angle [rad] about a unit axis (Rodrigues' formula), written into this. */
  turn({ x, y, z }: Vec, angle: number): this {
    const c = Math.cos(angle), s = Math.sin(angle), v = 1 - c;
    this.rows.set([
      c + x * x * v, x * y * v - z * s, x * z * v + y * s, 0,
      y * x * v + z * s, c + y * y * v, y * z * v - x * s, 0,
      z * x * v - y * s, z * y * v + x * s, c + z * z * v, 0,
    ]);
    return this;
  }

  /** Shift alone, written into this. */
  shift({ x, y, z }: Vec): this {
    this.rows.set([1, 0, 0, x, 0, 1, 0, y, 0, 0, 1, z]);
    return this;
  }

  /** A point of the frame, seen from the other. */
  point(v: Vec): Vec {
    return this.way(v).plus(this.origin);
  }

  /** A direction of the frame, seen from the other. */
  way({ x, y, z }: Vec): Vec {
    const r = this.rows;
    return new Vec(
      (r[0] ?? 0) * x + (r[1] ?? 0) * y + (r[2] ?? 0) * z,
      (r[4] ?? 0) * x + (r[5] ?? 0) * y + (r[6] ?? 0) * z,
      (r[8] ?? 0) * x + (r[9] ?? 0) * y + (r[10] ?? 0) * z,
    );
  }

  get origin(): Vec {
    const r = this.rows;
    return new Vec(r[3], r[7], r[11]);
  }
}

const PART = new Float64Array(4);
const BUFFER = new Float64Array(12);
