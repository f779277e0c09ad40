// How numbers are written: point, thin spaces, real minus. Verdict numbers come written from Python.
const THIN = "\u202f";

/** A number with so many decimals, thousands apart by thin spaces. */
export function number(value: number | null | undefined, decimals = 0): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "—";
  const [whole = "", part] = Math.abs(value).toFixed(decimals).split(".");
  const spaced = whole.replace(/\B(?=(\d{3})+(?!\d))/g, THIN);
  const text = part === undefined ? spaced : `${spaced}.${part}`;
  return value < 0 && Number(text.replaceAll(THIN, "")) !== 0 ? `−${text}` : text;
}

/** Significant digits, at most so many decimals. */
export function figures(value: number | null | undefined, digits = 3): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "—";
  if (value === 0) return "0";
  const size = Math.floor(Math.log10(Math.abs(value)));
  return number(value, Math.max(0, Math.min(6, digits - 1 - size)));
}

/** What somebody has written: its digits, no more, at most six decimals. */
export function asWritten(value: number): string {
  return number(value, Math.min(6, String(Number(value.toPrecision(6))).split(".")[1]?.length ?? 0));
}

/** A number and its unit; ° stands close. */
export function withUnit(value: string, unit: string): string {
  return unit === "" ? value : unit === "°" ? value + unit : `${value}${THIN}${unit}`;
}

/** Metres as whole millimetres. */
export function millimetres(metres: number | null | undefined): string {
  return metres === null || metres === undefined ? "—" : number(metres * 1000, 0);
}

/** A force. */
export function newtons(value: number): string {
  return withUnit(number(value, value < 9.95 ? 1 : 0), "N");
}
