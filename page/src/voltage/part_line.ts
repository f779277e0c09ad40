// One part of the circuit in a line: what flows, what is lost, how warm, at the cursor's phase.
import { at } from "../carry/plot";
import { KELVIN } from "../carry/quantities";
import { figures, number, withUnit } from "../numbers";
import type { Kept } from "../store";
import type { CircuitBlock, Consumer, Wire } from "../wire";

/** What is known of a part at a phase. */
export interface Reading {
  part: string;
  name: string;
  facts: { word: string; value: string; past: boolean }[];
}

/** Column `index` of a (T, count) array. */
export function lane(rows: Float32Array | undefined, index: number, count: number): Float32Array {
  const T = rows === undefined || count === 0 ? 0 : rows.length / count;
  const found = new Float32Array(Math.max(T, 1)).fill(NaN);
  for (let t = 0; t < T; t += 1) found[t] = rows?.[t * count + index] ?? NaN;
  return found;
}

/** A part's reading, or null where the circuit has no such part. */
export function reading(circuit: Kept<CircuitBlock>, part: string, phase: number): Reading | null {
  const { header, arrays } = circuit;
  const w = header.wires.findIndex((wire) => wire.part === part);
  if (w >= 0) return wireReading(header.wires[w] as Wire, circuit, w, phase);
  const c = header.consumers.findIndex((one) => one.part === part);
  if (c < 0) return null;
  const one = header.consumers[c] as Consumer;
  const now = at(lane(arrays["voltage"], c, header.consumers.length), phase);
  const facts = [{ word: "voltage", value: withUnit(figures(now, 4), "V"), past: false }];
  if (one.lowest !== null) {
    facts.push({ word: "at its lowest", value: withUnit(figures(one.lowest, 4), "V"), past: one.least !== null && one.lowest < one.least });
  }
  if (one.least !== null) facts.push({ word: "works down to", value: withUnit(figures(one.least, 3), "V"), past: false });
  return { part, name: one.name, facts };
}

function wireReading(wire: Wire, circuit: Kept<CircuitBlock>, index: number, phase: number): Reading {
  const { header, arrays } = circuit, count = header.wires.length;
  const current = at(lane(arrays["current"], index, count), phase), drop = at(lane(arrays["drop"], index, count), phase);
  const facts = [{ word: "current", value: withUnit(figures(current), "A"), past: wire.rating !== null && Math.abs(current) > wire.rating }];
  if (wire.rating !== null) facts.push({ word: "rated", value: withUnit(figures(wire.rating), "A"), past: false });
  facts.push({ word: "drop", value: withUnit(figures(drop * 1000), "mV"), past: false });
  if (wire.temperature !== null) {
    facts.push({ word: "settles at", value: withUnit(number(wire.temperature - KELVIN, 0), "°C"), past: wire.highest !== null && wire.temperature > wire.highest });
  }
  if (wire.highest !== null) facts.push({ word: "bears", value: withUnit(number(wire.highest - KELVIN, 0), "°C"), past: false });
  if (wire.length !== null) facts.push({ word: "length", value: withUnit(number(wire.length * 1000, 0), "mm"), past: false });
  const name = [wire.size, wire.conductor || wire.name].filter((word) => word !== "").join(", ");
  return { part: wire.part, name: name || wire.kind, facts };
}
