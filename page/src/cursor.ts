// One cursor for all: the share of the cycle that figure, plots and wiring show.

const RATE = 30; // pictures a second while it runs

const WORDS = 200; // ms between two changes of what is written while it runs

/** Tells when words may change: at once while the cursor rests, five times a second while it runs. */
export class Words {
  private last = 0;

  /** Whether it is time. */
  due({ running }: Cursor): boolean {
    const now = performance.now();
    if (running && now - this.last < WORDS) return false;
    this.last = now;
    return true;
  }
}

/** The phase cursor. */
export class Cursor {
  phase = 0;
  running = false;
  /** Shown seconds a second. */
  pace = 0.25;
  /** Length of the cycle [s]. */
  cycle = 1;
  /** What the figure shows instead of the cycle; empty: the cycle. */
  instead = "";
  private readonly listeners = new Set<() => void>();
  private last = 0;
  private due = 0;

  /** Call back when the phase moves or the run starts or stops. */
  listen(callback: () => void): () => void {
    this.listeners.add(callback);
    return () => this.listeners.delete(callback);
  }

  /** Move to a phase; any number, taken into 0 to 1. */
  set(phase: number): void {
    this.phase = ((phase % 1) + 1) % 1;
    for (const each of [...this.listeners]) each();
  }

  /** The figure shows something else than the cycle, or the cycle again: empty. */
  rest(instead: string): void {
    if (instead === this.instead) return;
    this.instead = instead;
    this.running = false;
    for (const each of [...this.listeners]) each();
  }

  /** Let it run, or hold it; where nobody sees it, it does not run. */
  run(on: boolean): void {
    if (on === this.running || (on && this.instead !== "")) return;
    this.running = on;
    this.last = 0;
    if (on) requestAnimationFrame(this.tick);
    for (const each of [...this.listeners]) each();
  }

  private readonly tick = (now: number): void => {
    if (!this.running) return;
    requestAnimationFrame(this.tick);
    if (this.last === 0) {
      this.last = now;
      this.due = now;
    }
    if (now < this.due - 4) return;
    const passed = Math.min(now - this.last, 200) / 1000;
    this.last = now;
    this.due = Math.max(this.due + 1000 / RATE, now);
    this.set(this.phase + (passed * this.pace) / this.cycle);
  };
}
