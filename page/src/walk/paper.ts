// A canvas that is drawn on as on the sheet: ink, hatch, lettering, in CSS pixels.
import { css, theme } from "../look";
import { html } from "../svg";

const HATCH_GAP = 6;

/** Colours and widths of the moment. */
export interface Inks {
  ink: string;
  ink2: string;
  line: string;
  hair: string;
  red: string;
  sheet: string;
  weight: number;
}

/** As CSS has them now. */
export function inks(): Inks {
  return {
    ink: css("ink"), ink2: css("ink2"), line: css("line"), hair: css("hair"), red: css("red"),
    sheet: css("sheet"), weight: theme() === "dark" ? 0.88 : 1,
  };
}

/** A drawing surface that keeps to its element's size. */
export class Paper {
  readonly element: HTMLCanvasElement;
  width = 0;
  height = 0;
  readonly pen: CanvasRenderingContext2D;

  constructor(about: string, height: number) {
    this.element = html("canvas", { role: "img", "aria-label": about, class: "walk-paper" });
    this.element.style.height = `${height}px`;
    const pen = this.element.getContext("2d");
    if (pen === null) throw new Error("This browser has no 2D canvas.");
    this.pen = pen;
  }

  /** Begin anew; false while there is no room. */
  begin(): boolean {
    const { clientWidth, clientHeight } = this.element;
    const ratio = Math.min(devicePixelRatio, 2);
    const [w, h] = [Math.round(clientWidth * ratio), Math.round(clientHeight * ratio)];
    if (w === 0 || h === 0) return false;
    if (this.element.width !== w || this.element.height !== h) {
      this.element.width = w;
      this.element.height = h;
    }
    this.width = clientWidth;
    this.height = clientHeight;
    this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.pen.clearRect(0, 0, clientWidth, clientHeight);
    this.pen.setLineDash([]);
    return true;
  }

  /** A straight line. */
  line(x0: number, y0: number, x1: number, y1: number, colour: string, width: number, dash: number[] = []): void {
    const { pen } = this;
    pen.beginPath();
    pen.setLineDash(dash);
    pen.moveTo(x0, y0);
    pen.lineTo(x1, y1);
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.stroke();
    pen.setLineDash([]);
  }

  /** Hatch a rectangle: not allowed. */
  hatch(x: number, y: number, wide: number, high: number, of: Inks): void {
    if (wide <= 0 || high <= 0) return;
    const { pen } = this;
    pen.save();
    pen.beginPath();
    pen.rect(x, y, wide, high);
    pen.clip();
    pen.beginPath();
    for (let at = Math.floor((x - high) / HATCH_GAP) * HATCH_GAP; at < x + wide; at += HATCH_GAP * Math.SQRT2) {
      pen.moveTo(at, y + high);
      pen.lineTo(at + high, y);
    }
    pen.strokeStyle = of.line;
    pen.lineWidth = 0.75 * of.weight;
    pen.stroke();
    pen.restore();
  }

  /** Lettering with the sheet's colour behind it. */
  text(words: string, x: number, y: number, of: Inks, how: { size?: number; weight?: number; align?: CanvasTextAlign; quiet?: boolean; red?: boolean; behind?: boolean } = {}): void {
    const { pen } = this;
    pen.font = `${how.weight ?? 500} ${how.size ?? 12}px "Barlow Semi Condensed", sans-serif`;
    pen.textAlign = how.align ?? "left";
    if (how.behind ?? true) {
      pen.strokeStyle = of.sheet;
      pen.lineWidth = 3;
      pen.lineJoin = "round";
      pen.strokeText(words, x, y);
    }
    pen.fillStyle = how.red ? of.red : how.quiet ? of.ink2 : of.ink;
    pen.fillText(words, x, y);
  }
}
