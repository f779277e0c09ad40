// What stands nearest to the eye, pixel by pixel: which solid, and how near.

const FAR = -1e9;

/** Depths and owners of all pixels; larger is nearer. Own solids are numbered from 1. */
export class Depth {
  width = 1;
  height = 1;
  private near = new Float32Array(1);
  private owner = new Uint16Array(1);
  private left = new Float64Array(1);
  private right = new Float64Array(1);
  /** What is covered: left, top, right, bottom [px]. */
  private box: [number, number, number, number] = [0, 0, 0, 0];

  /** Take a size [px]; everything is empty then. */
  resize(width: number, height: number): void {
    this.width = Math.max(1, Math.ceil(width));
    this.height = Math.max(1, Math.ceil(height));
    this.near = new Float32Array(this.width * this.height);
    this.owner = new Uint16Array(this.width * this.height);
    this.left = new Float64Array(this.height);
    this.right = new Float64Array(this.height);
    this.clear();
  }

  /** Nothing stands anywhere. */
  clear(): void {
    this.near.fill(FAR);
    this.owner.fill(0);
    this.box = [Infinity, Infinity, -Infinity, -Infinity];
  }

  /** Whether nothing stands anywhere near a line [px]. */
  clears(ax: number, ay: number, bx: number, by: number): boolean {
    const [left, top, right, bottom] = this.box;
    return Math.max(ax, bx) < left || Math.min(ax, bx) > right || Math.max(ay, by) < top || Math.min(ay, by) > bottom;
  }

  /** A flat convex face: corners x, y [px], depth [m] by number; its depth's slope along x and y [m/px]. */
  face(corners: Float64Array, face: readonly number[], slope: readonly [number, number], owner: number): void {
    const { width, height, left, right } = this;
    let top = Infinity, bottom = -Infinity;
    for (const i of face) {
      const x = corners[3 * i]!, y = corners[3 * i + 1]!;
      if (y < top) top = y;
      if (y > bottom) bottom = y;
      this.reach(x, y, 1);
    }
    const first = Math.max(0, Math.ceil(top - 0.5)), last = Math.min(height - 1, Math.floor(bottom - 0.5));
    if (first > last) return;
    left.fill(Infinity, first, last + 1);
    right.fill(-Infinity, first, last + 1);
    for (let k = 0; k < face.length; k += 1) {
      const a = 3 * face[k]!, b = 3 * face[k + 1 === face.length ? 0 : k + 1]!;
      this.side(corners[a]!, corners[a + 1]!, corners[b]!, corners[b + 1]!, first, last);
    }
    const a = 3 * face[0]!, [dx, dy] = slope;
    const base = corners[a + 2]! - dx * corners[a]! - dy * corners[a + 1]!;
    for (let row = first; row <= last; row += 1) {
      const from = Math.max(0, Math.ceil(left[row]! - 0.5)), to = Math.min(width - 1, Math.floor(right[row]! - 0.5));
      let z = base + dy * (row + 0.5) + dx * (from + 0.5);
      for (let i = row * width + from, end = row * width + to; i <= end; i += 1, z += dx) {
        if (z > this.near[i]!) {
          this.near[i] = z;
          this.owner[i] = owner;
        }
      }
    }
  }

  /** A ball: middle x, y [px], depth [m], radius [px], pixels a metre. */
  ball(x: number, y: number, z: number, radius: number, scale: number, owner: number): void {
    const { width, height } = this;
    this.reach(x, y, radius + 1);
    const first = Math.max(0, Math.ceil(y - radius - 0.5)), last = Math.min(height - 1, Math.floor(y + radius - 0.5));
    for (let row = first; row <= last; row += 1) {
      const up = row + 0.5 - y, half = Math.sqrt(Math.max(0, radius * radius - up * up));
      const from = Math.max(0, Math.ceil(x - half - 0.5)), to = Math.min(width - 1, Math.floor(x + half - 0.5));
      for (let column = from; column <= to; column += 1) {
        const out = column + 0.5 - x, i = row * width + column;
        const near = z + Math.sqrt(Math.max(0, half * half - out * out)) / scale;
        if (near > this.near[i]!) {
          this.near[i] = near;
          this.owner[i] = owner;
        }
      }
    }
  }

  /** Whether a point is seen; a solid's own front edges are never behind itself. */
  sees(x: number, y: number, z: number, own: number, slack: number): boolean {
    const column = Math.floor(x), row = Math.floor(y);
    if (column < 0 || row < 0 || column >= this.width || row >= this.height) return true;
    const i = row * this.width + column;
    return (own !== 0 && this.owner[i] === own) || z + slack >= this.near[i]!;
  }

  /** Solid at a pixel and its depth [m]; null: none. */
  at(x: number, y: number): { owner: number; z: number } | null {
    const column = Math.floor(x), row = Math.floor(y);
    if (column < 0 || row < 0 || column >= this.width || row >= this.height) return null;
    const i = row * this.width + column;
    return this.owner[i] === 0 ? null : { owner: this.owner[i]!, z: this.near[i]! };
  }

  /** Rows of pixels that belong to some solids. */
  runs(owners: ReadonlySet<number>, put: (x: number, y: number, long: number) => void): void {
    const { width, height, owner } = this;
    for (let row = 0; row < height; row += 1) {
      let from = -1;
      for (let column = 0; column <= width; column += 1) {
        const inside = column < width && owners.has(owner[row * width + column]!);
        if (inside && from < 0) from = column;
        if (inside || from < 0) continue;
        put(from, row, column - from);
        from = -1;
      }
    }
  }

  private reach(x: number, y: number, by: number): void {
    const { box } = this;
    if (x - by < box[0]) box[0] = x - by;
    if (y - by < box[1]) box[1] = y - by;
    if (x + by > box[2]) box[2] = x + by;
    if (y + by > box[3]) box[3] = y + by;
  }

  /** Where a side of a face crosses the middles of rows. */
  private side(ax: number, ay: number, bx: number, by: number, first: number, last: number): void {
    const low = Math.min(ay, by), high = Math.max(ay, by);
    const from = Math.max(first, Math.ceil(low - 0.5)), to = Math.min(last, Math.floor(high - 0.5));
    const step = (bx - ax) / (by - ay || 1);
    for (let row = from; row <= to; row += 1) {
      const x = ax + step * (row + 0.5 - ay);
      if (x < this.left[row]!) this.left[row] = x;
      if (x > this.right[row]!) this.right[row] = x;
    }
  }
}
