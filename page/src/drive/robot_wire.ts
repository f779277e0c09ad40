// The remote protocol, version 1, as far as the page speaks it: docs/protocol.md.

/** A row of numbers; null where one is not known. */
export type Row = (number | null)[];

/** What readings are held against. */
export interface RobotLimits {
  current: Row;
  winding: Row;
  volts: Row;
  voltage?: number | null;
  lower: Row;
  upper: Row;
}

/** What a robot is. */
export interface Card {
  name: string;
  legs: Record<string, string[]>;
  joints: string[];
  gaits: string[];
  rate: number;
  real?: boolean;
  fields?: string[];
  limits?: RobotLimits | null;
}

/** The robot in one cycle. */
export interface State {
  type: "state";
  stream: string;
  time: number;
  mode?: string;
  faults?: string[];
  voltage?: number | null;
  margin?: number | null;
  place?: Row;
  up?: Row | null;
  q?: Row;
  current?: Row;
  winding?: Row;
  powered?: boolean[];
  volts?: Row;
  errors?: number[];
  contact?: boolean[];
  force?: Row;
  feet?: Row[];
  lights?: string[];
  recorded?: boolean;
}

/** Whether a message was taken up. */
export interface Answer {
  type: "answer";
  n: number;
  ok: boolean;
  time: number;
  word?: string;
  text?: string;
}

/** A motion has come to its end. */
export interface Ended {
  type: "ended";
  n: number;
  ok: boolean;
  time: number;
  word?: string;
  text?: string;
  foot?: Row | null;
  force?: number | null;
}

export type RobotSaid =
  | { type: "welcome"; version: number; session: string; robot: Card; time: number; role?: string; name?: string }
  | { type: "signed"; role: string; name: string }
  | { type: "pong"; n: number; time: number }
  | Answer
  | Ended
  | { type: "driver"; session: string; name: string; time: number }
  | { type: "event"; time: number; what: string; text: string; leg?: string }
  | { type: "error"; word: string; text: string; fatal?: boolean }
  | State;

/** Fields of `state` that the page looks at. */
export const FIELDS = [
  "mode", "faults", "voltage", "margin", "place", "up", "q", "current", "winding", "powered", "volts",
  "errors", "contact", "force", "feet", "lights", "recorded",
] as const;
/** Those that the first robots did not know. */
export const LATER: readonly string[] = ["volts", "errors", "lights", "recorded"];
