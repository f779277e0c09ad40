// Sentences from Python, set as a printer would: no line ends between a number and its unit.
const THIN = "\u202f";
const BASE = "(?:°C|°|%|rpm|rad|deg|min|AWG|bits?|[kKMGcmµn]?(?:m|g|s|h|A|V|W|N|J|K|Hz|Pa|Ω|F|H|B|bit|rad))[²³]?";
const BOUND = new RegExp(`(?<=\\d\\)?) ?(?=%)|(?<=\\d\\)?) (?=${BASE}(?:[·/]${BASE})*(?![\\p{L}\\d]))`, "gu");
const MINUS = /(?<![\p{L}\d)\-–])-(?=\d)/gu;
/** What holds sentences in a message; everything else is names and values, which stay as they are. */
const HOLDERS = new Set(["read", "text", "why", "cure", "source", "note", "notes"]);

/** A sentence with thin no-break spaces before units, and true minus signs. */
export function sentence(text: string): string {
  return text.replace(BOUND, THIN).replace(MINUS, "−");
}

/** A message, its sentences set. */
export function heard<T>(text: string): T {
  return JSON.parse(text, (key, value: unknown) => {
    if (!HOLDERS.has(key)) return value;
    if (typeof value === "string") return sentence(value);
    return Array.isArray(value) ? value.map((each: unknown) => (typeof each === "string" ? sentence(each) : each)) : value;
  }) as T;
}
