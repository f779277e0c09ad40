// The clock that all plots of a walk share: what stretch is shown, and where the cursor is.

const CLOSE = 10; // s

/** Stretch and cursor; a walk that is walked pushes both along. */
export class Timeline {
  start = 0;
  end = CLOSE;
  /** Where the cursor is; null: at the newest. */
  held: number | null = null;
  /** Whether the whole walk is shown, or ten seconds of it. */
  whole = false;
  private newest = 0;

  /** The walk has come so far [s]. */
  come(time: number): void {
    this.newest = time;
    this.lay();
  }

  /** Hold the cursor at a time, or let it go. */
  hold(time: number | null): void {
    this.held = time === null ? null : Math.min(Math.max(time, 0), this.newest);
    this.lay();
  }

  /** Show all, or ten seconds. */
  show(whole: boolean): void {
    this.whole = whole;
    this.lay();
  }

  /** Where the cursor is [s]. */
  get cursor(): number {
    return this.held ?? this.newest;
  }

  private lay(): void {
    if (this.whole) {
      this.start = 0;
      this.end = Math.max(this.newest, 1);
      return;
    }
    if (this.held === null) {
      this.end = Math.max(this.newest, CLOSE);
    } else if (this.held < this.start || this.held > this.end) {
      this.end = Math.max(Math.min(this.held + CLOSE / 2, this.newest), CLOSE);
    }
    this.start = this.end - CLOSE;
  }
}

/** Handy steps for an axis: 1, 2 or 5 times a power of ten. */
export function step(span: number, most: number): number {
  const rough = span / Math.max(most, 1);
  const power = 10 ** Math.floor(Math.log10(rough));
  return (([1, 2, 5, 10].find((n) => n * power >= rough * 0.999) ?? 10) * power);
}
