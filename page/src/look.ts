// Light or dark, and the colours that drawings outside CSS need.

/** Colours of the moment for what CSS does not reach. */
export interface Palette {
  bench: string;
  sheet: string;
  tint: string;
  ink: string;
  ink2: string;
  line: string;
  hair: string;
  red: string;
  yellow: string;
  /** Factor of line widths. */
  weight: number;
}

export type Theme = "light" | "dark";

const KEPT = "legwright.theme";
const system = matchMedia("(prefers-color-scheme: dark)");
const listeners = new Set<() => void>();

function kept(): Theme | null {
  try {
    const value = localStorage.getItem(KEPT);
    return value === "light" || value === "dark" ? value : null;
  } catch {
    return null;
  }
}

let chosen = kept();

/** The theme that is shown. */
export function theme(): Theme {
  return chosen ?? (system.matches ? "dark" : "light");
}

function apply(): void {
  document.documentElement.dataset["theme"] = theme();
  for (const each of [...listeners]) each();
}

/** Change over; what the system itself shows is not kept. */
export function turnTheme(): void {
  const next: Theme = theme() === "dark" ? "light" : "dark";
  chosen = next === (system.matches ? "dark" : "light") ? null : next;
  try {
    if (chosen === null) localStorage.removeItem(KEPT);
    else localStorage.setItem(KEPT, chosen);
  } catch {
    // A page that may keep nothing still changes its colours.
  }
  apply();
}

/** Call back when the theme changes. */
export function onTheme(callback: () => void): () => void {
  listeners.add(callback);
  return () => listeners.delete(callback);
}

system.addEventListener("change", apply);
apply();

/** One of the colours, as CSS has it now. */
export function css(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

/** The colours as they are now. */
export function palette(): Palette {
  const of = css;
  return {
    bench: of("bench"),
    sheet: of("sheet"),
    tint: of("tint"),
    ink: of("ink"),
    ink2: of("ink2"),
    line: of("line"),
    hair: of("hair"),
    red: of("red"),
    yellow: of("yellow"),
    weight: theme() === "dark" ? 0.88 : 1,
  };
}

/** Whether the user asks for less motion. */
export const still = matchMedia("(prefers-reduced-motion: reduce)");
