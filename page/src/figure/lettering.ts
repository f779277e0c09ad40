// Pens and lettering on the figure's canvas, in the sheet's faces.
import type { Palette } from "../look";

const FACE = '"Barlow Semi Condensed","Source Serif 4",sans-serif';
const FONTS = {
  leg: `600 14px ${FACE}`,
  number: `500 12px ${FACE}`,
  symbol: 'italic 400 15px "Source Serif 4",Charter,Georgia,serif',
} as const;

/** A place of the picture [px, y down]. */
export interface Spot {
  x: number;
  y: number;
}

const SHIFTS = [0, 13, -13, 26, -26, -39]; // px, tried in turn
const ACROSS = 12; // px between letters on either side of what they name
const HEIGHT = 12;
const LETTER = 9;

/** Left, top, right, bottom [px]. */
type Box = readonly [number, number, number, number];

const box = (left: number, y: number, wide: number): Box => [left - 2, y - HEIGHT, left + wide + 2, y + 2];

/** Draws single marks; the figure's lines have pens of their own. */
export class Lettering {
  private colour: string;
  private readonly wide: number;
  private readonly high: number;
  /** Where letters stand already. */
  private readonly taken: Box[] = [];

  constructor(private readonly on: CanvasRenderingContext2D, private readonly palette: Palette) {
    this.colour = palette.ink;
    const { a, d } = on.getTransform();
    this.wide = on.canvas.width / a;
    this.high = on.canvas.height / d;
  }

  /** What is drawn from now on is wrong, or is not. */
  wrong(wrong: boolean): void {
    this.colour = wrong ? this.palette.red : this.palette.ink;
  }

  /** What is drawn from now on is covered by something, or is not. */
  covered(covered: boolean): void {
    this.colour = covered ? this.palette.ink2 : this.palette.ink;
  }

  /** A straight line; dashes [px]. */
  line(from: Spot, to: Spot, width = 1, dash: readonly number[] = []): void {
    const { on } = this;
    on.strokeStyle = this.colour;
    on.lineWidth = width;
    on.lineCap = "butt";
    on.setLineDash([...dash]);
    on.beginPath();
    on.moveTo(from.x, from.y);
    on.lineTo(to.x, to.y);
    on.stroke();
    on.setLineDash([]);
  }

  /**
   * Letters with a border of the sheet's colour, so that lines do not cross them. A number steps
   * aside, up or down, where letters stand already.
   */
  text(at: Spot, text: string, kind: keyof typeof FONTS, align: CanvasTextAlign = "start", across = ACROSS): void {
    const { on, palette } = this;
    on.font = FONTS[kind];
    on.textAlign = align;
    on.lineJoin = "round";
    on.lineWidth = 3;
    on.strokeStyle = palette.sheet;
    const wide = on.measureText(text).width;
    const left = at.x - { start: 0, left: 0, center: wide / 2, end: wide, right: wide }[align];
    const [x, y] = kind === "number" ? this.aside(left, at.y, wide, align === "start" ? across : 0) : [0, 0];
    this.taken.push(box(left + x, at.y + y, wide));
    on.strokeText(text, at.x + x, at.y + y);
    on.fillStyle = palette.sheet;
    on.fillRect(left + x - 1, at.y + y - LETTER, wide + 2, LETTER); // between letters too
    on.fillStyle = this.colour;
    on.fillText(text, at.x + x, at.y + y);
  }

  /** No number is to stand here: left, foot and width [px]. */
  keep(left: number, y: number, wide: number): void {
    this.taken.push(box(left, y, wide));
  }

  /** How far letters step aside to be free of others: across what they name, up or down [px]. */
  private aside(left: number, y: number, wide: number, across: number): readonly [number, number] {
    const sides = across > 0 ? [0, -(wide + across)] : [0];
    for (const down of SHIFTS) {
      for (const side of sides) {
        const [l, t, r, b] = box(left + side, y + down, wide);
        const inside = l >= 0 && t >= 0 && r <= this.wide && b <= this.high;
        if (inside && this.taken.every(([a, c, d, e]) => r < a || l > d || b < c || t > e)) return [side, down];
      }
    }
    return [0, 0];
  }

  /** A disc in ink, or open; dashes [px] of its outline. */
  disc(at: Spot, radius: number, open: boolean, width = 1, dash: readonly number[] = []): void {
    const { on, palette } = this;
    on.beginPath();
    on.arc(at.x, at.y, radius, 0, 2 * Math.PI);
    on.fillStyle = open ? palette.sheet : this.colour;
    on.fill();
    on.strokeStyle = this.colour;
    on.lineWidth = width;
    on.setLineDash([...dash]);
    on.stroke();
    on.setLineDash([]);
  }

  /** The surveyor's quartered disc. */
  quartered(at: Spot, radius: number): void {
    this.disc(at, radius, true, 1.4);
    const { on } = this;
    on.fillStyle = this.colour;
    for (const from of [-Math.PI / 2, Math.PI / 2]) {
      on.beginPath();
      on.moveTo(at.x, at.y);
      on.arc(at.x, at.y, radius, from, from + Math.PI / 2);
      on.fill();
    }
  }

  /** A closed arrowhead at the end of a line. */
  arrow(from: Spot, to: Spot): void {
    const { on } = this;
    const length = Math.hypot(to.x - from.x, to.y - from.y) || 1;
    const [ux, uy] = [(to.x - from.x) / length, (to.y - from.y) / length];
    const long = 9, half = long * Math.tan((9.5 * Math.PI) / 180);
    const [bx, by] = [to.x - ux * long, to.y - uy * long];
    on.fillStyle = this.colour;
    on.beginPath();
    on.moveTo(to.x, to.y);
    on.lineTo(bx - uy * half, by + ux * half);
    on.lineTo(bx + uy * half, by - ux * half);
    on.fill();
  }
}
