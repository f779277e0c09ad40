// What stands nearest to the eye, pixel by pixel: which surface, and how near.

const FAR = -1e9;
const ROW = 6; // numbers that a surface is known by

/**
 * Depths and surfaces of all pixels; larger is nearer. Own solids are numbered from 1.
 *
 * A pixel knows its surface, not only the depth at its middle: what lies beside the middle is held
 * against the surface itself, so that no slope has to be allowed for.
 */
export class Depth {
  width = 1;
  height = 1;
  private near = new Float32Array(1);
  /** Surface that stands at each pixel, from 1; 0: none. */
  private nearest = new Uint16Array(1);
  private left = new Float64Array(1);
  private right = new Float64Array(1);
  /**
   * Of each surface: depth at the picture's corner, slopes along x and y, 0, least and greatest
   * depth; or a ball's middle and radius.
   */
  private surfaces = new Float64Array(ROW * 256);
  private owners = new Uint16Array(256);
  private count = 0;
  private scale = 1;
  /** What is covered: left, top, right, bottom [px]. */
  private box: [number, number, number, number] = [0, 0, 0, 0];

  /** Take a size [px]; everything is empty then. */
  resize(width: number, height: number): void {
    this.width = Math.max(1, Math.ceil(width));
    this.height = Math.max(1, Math.ceil(height));
    this.near = new Float32Array(this.width * this.height);
    this.nearest = new Uint16Array(this.width * this.height);
    this.left = new Float64Array(this.height);
    this.right = new Float64Array(this.height);
    this.clear(1);
  }

  /** Nothing stands anywhere; so many pixels a metre from now on. */
  clear(scale: number): void {
    this.near.fill(FAR);
    this.nearest.fill(0);
    this.count = 0;
    this.scale = scale;
    this.box = [Infinity, Infinity, -Infinity, -Infinity];
  }

  /** Whether nothing stands anywhere near a line [px]. */
  clears(ax: number, ay: number, bx: number, by: number): boolean {
    const [left, top, right, bottom] = this.box;
    return Math.max(ax, bx) < left || Math.min(ax, bx) > right || Math.max(ay, by) < top || Math.min(ay, by) > bottom;
  }

  /** A flat convex face: corners x, y [px] by number; its depth is base + dx·x + dy·y [m]. */
  face(corners: Float64Array, face: readonly number[], base: number, dx: number, dy: number, owner: number): void {
    const { width, height, left, right } = this;
    let top = Infinity, bottom = -Infinity, low = Infinity, high = -Infinity;
    for (const i of face) {
      const x = corners[3 * i]!, y = corners[3 * i + 1]!, z = corners[3 * i + 2]!;
      if (z < low) low = z;
      if (z > high) high = z;
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
    const surface = this.surface(owner, base, dx, dy, 0, low, high);
    for (let row = first; row <= last; row += 1) {
      const from = Math.max(0, Math.ceil(left[row]! - 0.5)), to = Math.min(width - 1, Math.floor(right[row]! - 0.5));
      let z = base + dy * (row + 0.5) + dx * (from + 0.5);
      for (let i = row * width + from, end = row * width + to; i <= end; i += 1, z += dx) {
        if (z > this.near[i]!) {
          this.near[i] = z;
          this.nearest[i] = surface;
        }
      }
    }
  }

  /** A ball: middle x, y [px], depth [m], radius [px]. */
  ball(x: number, y: number, z: number, radius: number, owner: number): void {
    const { width, height, scale } = this;
    this.reach(x, y, radius + 1);
    const surface = this.surface(owner, x, y, z, radius, 0, 0);
    const first = Math.max(0, Math.ceil(y - radius - 0.5)), last = Math.min(height - 1, Math.floor(y + radius - 0.5));
    for (let row = first; row <= last; row += 1) {
      const up = row + 0.5 - y, half = Math.sqrt(Math.max(0, radius * radius - up * up));
      const from = Math.max(0, Math.ceil(x - half - 0.5)), to = Math.min(width - 1, Math.floor(x + half - 0.5));
      for (let column = from; column <= to; column += 1) {
        const out = column + 0.5 - x, i = row * width + column;
        const near = z + Math.sqrt(Math.max(0, half * half - out * out)) / scale;
        if (near > this.near[i]!) {
          this.near[i] = near;
          this.nearest[i] = surface;
        }
      }
    }
  }

  /** Whether a point is seen that lies on one or two solids (0: on none); their own fronts do not hide it. */
  sees(x: number, y: number, z: number, own: number, other: number, slack: number): boolean {
    const column = Math.floor(x), row = Math.floor(y);
    if (column < 0 || row < 0 || column >= this.width || row >= this.height) return true;
    const surface = this.nearest[row * this.width + column]!;
    if (surface === 0) return true;
    const owner = this.owners[surface]!;
    return owner === own || owner === other || z + slack >= this.depth(surface, x, y);
  }

  /** Solid at a pixel and its depth [m]; null: none. */
  at(x: number, y: number): { owner: number; z: number } | null {
    const column = Math.floor(x), row = Math.floor(y);
    if (column < 0 || row < 0 || column >= this.width || row >= this.height) return null;
    const surface = this.nearest[row * this.width + column]!;
    return surface === 0 ? null : { owner: this.owners[surface]!, z: this.depth(surface, x, y) };
  }

  /** Rows of pixels that belong to some solids. */
  runs(owners: ReadonlySet<number>, put: (x: number, y: number, long: number) => void): void {
    const { width, height, nearest } = this;
    for (let row = 0; row < height; row += 1) {
      let from = -1;
      for (let column = 0; column <= width; column += 1) {
        const inside = column < width && owners.has(this.owners[nearest[row * width + column]!]!);
        if (inside && from < 0) from = column;
        if (inside || from < 0) continue;
        put(from, row, column - from);
        from = -1;
      }
    }
  }

  /** Depth of a surface at a place of the picture, also a little beside it. */
  private depth(surface: number, x: number, y: number): number {
    const s = this.surfaces, i = ROW * surface, radius = s[i + 3]!;
    // Seen edgewise a face is a pixel wide and steep: it is nowhere nearer than its corners.
    if (radius === 0) return Math.min(s[i + 5]!, Math.max(s[i + 4]!, s[i]! + s[i + 1]! * x + s[i + 2]! * y));
    const far = (x - s[i]!) ** 2 + (y - s[i + 1]!) ** 2;
    return s[i + 2]! + Math.sqrt(Math.max(0, radius * radius - far)) / this.scale;
  }

  private surface(owner: number, a: number, b: number, c: number, radius: number, low: number, high: number): number {
    this.count += 1;
    if (this.count >= this.owners.length) {
      const [surfaces, owners] = [new Float64Array(2 * this.surfaces.length), new Uint16Array(2 * this.owners.length)];
      surfaces.set(this.surfaces);
      owners.set(this.owners);
      [this.surfaces, this.owners] = [surfaces, owners];
    }
    const i = ROW * this.count;
    this.owners[this.count] = owner;
    this.surfaces[i] = a;
    this.surfaces[i + 1] = b;
    this.surfaces[i + 2] = c;
    this.surfaces[i + 3] = radius;
    this.surfaces[i + 4] = low;
    this.surfaces[i + 5] = high;
    return this.count;
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
