// Lines of a width in pixels, drawn as thin quads with soft borders; no other smoothing is used.
import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DynamicDrawUsage,
  GLSL3,
  Mesh,
  RawShaderMaterial,
  Vector2,
} from "three";

// Four corners a line, each with all that is known of the line. Instancing would say it once, but
// software drawing then draws line by line: a robot took 140 ms a picture.
const CORNERS = [0, -1, 0, 1, -1, 0, 1, 1, 0, 0, 1, 0];
const TWO_TRIANGLES = [0, 1, 2, 0, 2, 3];

// A half pixel more on each side fades out. Lines lie a hair nearer than the faces they border.
const WIDEN = /* glsl */ `
  vec4 widened(vec4 p, vec4 q, float half_px) {
    vec2 a = p.xy / p.w * 0.5 * screen, b = q.xy / q.w * 0.5 * screen;
    vec2 along = b - a;
    float length_px = length(along);
    vec2 unit = length_px > 1e-4 ? along / length_px : vec2(1.0, 0.0);
    float reach = half_px + 0.5;
    vec2 end = mix(a - unit * half_px * 0.7, b + unit * half_px * 0.7, position.x);
    vec2 at = end + vec2(-unit.y, unit.x) * position.y * reach;
    vec4 point = mix(p, q, position.x);
    off = position.y * reach;
    reach_px = half_px;
    run = position.x * length_px;
    return vec4(at / (0.5 * screen) * point.w, point.z - nearer * point.w, point.w);
  }`;

const HEAD = /* glsl */ `
  precision highp float;
  uniform mat4 projectionMatrix, modelViewMatrix;
  uniform vec2 screen;
  uniform float nearer;
  in vec3 position;
  out float off, reach_px, run;`;

const EDGE_VERTEX = /* glsl */ `${HEAD}
  uniform float outer_px, inner_px;
  in vec3 a, b, n, m;
  ${WIDEN}
  void main() {
    float one = (modelViewMatrix * vec4(n, 0.0)).z, two = (modelViewMatrix * vec4(m, 0.0)).z;
    bool near = one > 1e-4, far = two > 1e-4;
    float wide = near != far ? outer_px : (near && far && dot(n, m) < 0.9) ? inner_px : 0.0;
    if (wide == 0.0) { gl_Position = vec4(2.0, 2.0, 2.0, 1.0); return; }
    mat4 all = projectionMatrix * modelViewMatrix;
    gl_Position = widened(all * vec4(a, 1.0), all * vec4(b, 1.0), 0.5 * wide);
  }`;

const EDGE_FRAGMENT = /* glsl */ `
  precision highp float;
  uniform vec3 colour;
  uniform vec2 dash;
  in float off, reach_px, run;
  out vec4 ink;
  void main() {
    if (dash.x > 0.0 && mod(run, dash.x + dash.y) > dash.x) discard;
    float cover = clamp(reach_px + 0.5 - abs(off), 0.0, 1.0) * min(1.0, 2.0 * reach_px);
    if (cover < 0.02) discard;
    ink = vec4(colour, cover);
  }`;

const FREE_VERTEX = /* glsl */ `${HEAD}
  in vec3 a, b, tint;
  in vec4 style;
  out vec3 colour;
  out vec2 dash;
  out float start;
  ${WIDEN}
  void main() {
    mat4 all = projectionMatrix * modelViewMatrix;
    colour = tint;
    dash = style.yz;
    start = style.w;
    gl_Position = widened(all * vec4(a, 1.0), all * vec4(b, 1.0), 0.5 * style.x);
  }`;

const FREE_FRAGMENT = /* glsl */ `
  precision highp float;
  in vec3 colour;
  in vec2 dash;
  in float off, reach_px, run, start;
  out vec4 ink;
  void main() {
    if (dash.x > 0.0 && mod(run + start, dash.x + dash.y) > dash.x) discard;
    float cover = clamp(reach_px + 0.5 - abs(off), 0.0, 1.0) * min(1.0, 2.0 * reach_px);
    if (cover < 0.02) discard;
    ink = vec4(colour, cover);
  }`;

/** So many quads: corners and triangles. */
function quads(count: number): BufferGeometry {
  const corners = new Float32Array(count * CORNERS.length);
  const triangles = new Uint32Array(count * 6);
  for (let i = 0; i < count; i += 1) {
    corners.set(CORNERS, i * CORNERS.length);
    for (let k = 0; k < 6; k += 1) triangles[i * 6 + k] = 4 * i + (TWO_TRIANGLES[k] ?? 0);
  }
  const geometry = new BufferGeometry();
  geometry.setAttribute("position", new BufferAttribute(corners, 3));
  geometry.setIndex(new BufferAttribute(triangles, 1));
  return geometry;
}

function parts(data: Float32Array, names: readonly string[]): [string, BufferAttribute][] {
  const wide = names.length * 3;
  const count = data.length / wide;
  return names.map((name, k) => {
    const own = new Float32Array(count * 12);
    for (let i = 0; i < count * 4; i += 1) {
      for (let j = 0; j < 3; j += 1) own[i * 3 + j] = data[(i >> 2) * wide + k * 3 + j] ?? 0;
    }
    return [name, new BufferAttribute(own, 3)];
  });
}

/** The edges of a link: outline where front meets back, inner where two fronts meet. */
export class Edges {
  readonly mesh: Mesh<BufferGeometry, RawShaderMaterial>;

  constructor(edges: Float32Array, screen: Vector2) {
    const geometry = quads(edges.length / 12);
    for (const [name, attribute] of parts(edges, ["a", "b", "n", "m"])) {
      geometry.setAttribute(name, attribute);
    }
    const material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: EDGE_VERTEX,
      fragmentShader: EDGE_FRAGMENT,
      transparent: true,
      depthWrite: false,
      uniforms: {
        screen: { value: screen },
        nearer: { value: 0.0004 },
        outer_px: { value: 2 },
        inner_px: { value: 0.75 },
        colour: { value: new Color() },
        dash: { value: new Vector2() },
      },
    });
    this.mesh = new Mesh(geometry, material);
    this.mesh.frustumCulled = false;
    this.mesh.matrixAutoUpdate = false;
    this.mesh.renderOrder = 2;
  }

  /** Widths in device pixels, and colour. */
  style(outer: number, inner: number, colour: Color, dash = 0, gap = 0): void {
    const { uniforms } = this.mesh.material;
    (uniforms["dash"]!.value as Vector2).set(dash, gap);
    uniforms["outer_px"]!.value = outer;
    uniforms["inner_px"]!.value = inner;
    (uniforms["colour"]!.value as Color).copy(colour);
  }

  /** Give the buffers back. */
  dispose(): void {
    this.mesh.geometry.dispose();
    this.mesh.material.dispose();
  }
}

/** How a free line is drawn: width [device px], dash and gap [device px], 0: continuous. */
export interface Pen {
  width: number;
  colour: Color;
  dash?: number;
  gap?: number;
}

/** Free lines in the ground frame, set anew whenever something moves. */
export class Strokes {
  readonly mesh: Mesh<BufferGeometry, RawShaderMaterial>;
  private count = 0;
  private room = 0;
  private readonly columns: Record<"a" | "b" | "tint" | "style", Float32Array> = {
    a: new Float32Array(),
    b: new Float32Array(),
    tint: new Float32Array(),
    style: new Float32Array(),
  };

  constructor(screen: Vector2, order: number) {
    const material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: FREE_VERTEX,
      fragmentShader: FREE_FRAGMENT,
      transparent: true,
      depthWrite: false,
      uniforms: { screen: { value: screen }, nearer: { value: 0.0001 } },
    });
    this.mesh = new Mesh(new BufferGeometry(), material);
    this.mesh.frustumCulled = false;
    this.mesh.renderOrder = order;
    this.grow(64);
  }

  /** Forget all lines. */
  clear(): void {
    this.count = 0;
  }

  /** Add a line; `start` shifts its dashes [px]. */
  line(a: ArrayLike<number>, b: ArrayLike<number>, pen: Pen, start = 0): void {
    if (this.count === this.room) this.grow(this.room * 2);
    const i = this.count;
    const { tint, style } = this.columns;
    for (let corner = 4 * i; corner < 4 * i + 4; corner += 1) {
      for (let k = 0; k < 3; k += 1) {
        this.columns.a[corner * 3 + k] = a[k] ?? 0;
        this.columns.b[corner * 3 + k] = b[k] ?? 0;
      }
      tint.set([pen.colour.r, pen.colour.g, pen.colour.b], corner * 3);
      style.set([pen.width, pen.dash ?? 0, pen.gap ?? 0, start], corner * 4);
    }
    this.count += 1;
  }

  /** Hand the lines to the drawing. */
  flush(): void {
    const { geometry } = this.mesh;
    geometry.setDrawRange(0, 6 * this.count);
    this.mesh.visible = this.count > 0;
    for (const name of Object.keys(this.columns)) geometry.getAttribute(name).needsUpdate = true;
  }

  /** Give the buffers back. */
  dispose(): void {
    this.mesh.geometry.dispose();
    this.mesh.material.dispose();
  }

  private grow(room: number): void {
    this.mesh.geometry.dispose();
    this.mesh.geometry = quads(room);
    this.room = room;
    for (const [name, width] of [["a", 3], ["b", 3], ["tint", 3], ["style", 4]] as const) {
      const larger = new Float32Array(4 * room * width);
      larger.set(this.columns[name]);
      this.columns[name] = larger;
      const attribute = new BufferAttribute(larger, width);
      attribute.setUsage(DynamicDrawUsage);
      this.mesh.geometry.setAttribute(name, attribute);
    }
  }
}
