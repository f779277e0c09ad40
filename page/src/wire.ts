// The wire between desk and page. Made by `python docs/make_desk_types.py` from the messages in
// src/legwright/views/desk: change those, not this file.

export const VERSION = 1;

// From page to desk -----------------------------------------------------------------------------

/** The first message of a page; everything that it needs to draw follows. */
export interface Hello {
  type: "hello";
  version: number;
}

/** Change one key of the sheet, in memory. */
export interface Edit {
  type: "edit";
  /** Higher than all before it from this page. */
  n: number;
  /** As a `Field` names it: ``dimensions.femur``. */
  key: string;
  /** As one types it: ``90 mm``, ``0.6``, ``dunnock``; empty goes back to what is on disk. */
  value: string;
}

/** Take back the last edit. */
export interface Undo {
  type: "undo";
  /** Higher than all before it from this page. */
  n: number;
}

/** Bring back what was undone. */
export interface Redo {
  type: "redo";
  /** Higher than all before it from this page. */
  n: number;
}

/** Back to what is on disk, all of it; can be undone. */
export interface PutBack {
  type: "put_back";
  /** Higher than all before it from this page. */
  n: number;
}

/** Write the edits as a new variant folder beside the robot's; the only message that writes. */
export interface Keep {
  type: "keep";
  /** Higher than all before it from this page. */
  n: number;
  /** Of the folder, plain. */
  name: string;
}

/** Lay another variant over this one. */
export interface Compare {
  type: "compare";
  /** Higher than all before it from this page. */
  n: number;
  /** One of `Welcome.variants`; empty ends it: then what is on disk is laid under the edits. */
  variant: string;
}

/** Show one of the cases that the study walks. */
export interface Show {
  type: "show";
  /** Higher than all before it from this page. */
  n: number;
  /** One of `Welcome.cases`. */
  case: string;
}

/** Show a walk of one's own. */
export interface Ask {
  type: "ask";
  /** Higher than all before it from this page. */
  n: number;
  /** One of `Welcome.gaits`; where `duty` or `phases` are given they replace its own. */
  gait: string;
  /** Forward, to the left [m/s]. */
  velocity?: [number, number];
  /** To the left [rad/s]. */
  turn?: number;
  /** Share of the cycle that each foot stands. */
  duty?: number | null;
  /** Leg -> share of the cycle at which it touches down. */
  phases?: Record<string, number> | null;
  /** [s]; the one that strains the robot least when left out. */
  cycle?: number | null;
  /** [m] */
  lift?: number | null;
  /** Body frame over the foot points [m]. */
  body_height?: number | null;
  /** [rad] */
  slope?: number;
  /** Direction uphill from the body's x axis, to the left [rad]. */
  uphill?: number;
}

/** Drag a part; answered by a block `pulled`. Nothing is kept. */
export interface Pull {
  type: "pull";
  /** Higher than all before it from this page. */
  n: number;
  what: "body" | "foot" | "joint";
  /** Leg or joint; empty for the body. */
  name?: string;
  /**
   * Foot: place in the ground frame, x, y, z [m]. Body: x, y, z [m], roll, pitch, yaw [rad]
   * against where it stands. Joint: its position [rad].
   */
  to: number[];
  /** Share of the shown cycle that the pose is taken from; below 0 the robot stands. */
  phase?: number;
}

/** Show the case and phase that a finding speaks of. */
export interface Look {
  type: "look";
  /** Higher than all before it from this page. */
  n: number;
  /** Its `id`. */
  finding: string;
}

/** Walk the edited robot in the physics world. */
export interface WalkStart {
  type: "walk_start";
  /** Higher than all before it from this page. */
  n: number;
  ground?: string;
  seed?: number;
  gait?: string;
  /** Forward [m/s]; what the sheet asks of that gait when left out. */
  speed?: number | null;
  mode?: "blind" | "felt";
  /** [m] */
  distance?: number;
  /** Of the ground's steps over leg length. */
  height?: number;
  /** World seconds per second; 0: as fast as it goes. */
  pace?: number;
}

/** See the walk: all that was so far, and what comes; without, only its state is told. */
export interface WalkWatch {
  type: "walk_watch";
  /** Higher than all before it from this page. */
  n: number;
  on: boolean;
}

/** Change the pace of a walk that is walked. */
export interface WalkPace {
  type: "walk_pace";
  /** Higher than all before it from this page. */
  n: number;
  /** World seconds per second; 0: as fast as it goes. */
  pace: number;
}

/** Hold the world still, or let it go on. */
export interface WalkPause {
  type: "walk_pause";
  /** Higher than all before it from this page. */
  n: number;
  paused: boolean;
}

/** End the walk or close the recording. */
export interface WalkEnd {
  type: "walk_end";
  /** Higher than all before it from this page. */
  n: number;
}

/** Open a recording. */
export interface WalkOpen {
  type: "walk_open";
  /** Higher than all before it from this page. */
  n: number;
  /** One of `Recordings.list`. */
  name: string;
}

/** Show the walk at a time; answered by a `moment` to this page alone. */
export interface WalkAt {
  type: "walk_at";
  /** Higher than all before it from this page. */
  n: number;
  /** [s] */
  time: number;
}

/** Draw a film strip of the walk. */
export interface Film {
  type: "film";
  /** Higher than all before it from this page. */
  n: number;
}

/** Start the built-in simulated robot; it is then driven at `/robot`. */
export interface RobotStart {
  type: "robot_start";
  /** Higher than all before it from this page. */
  n: number;
  ground?: string;
  seed?: number;
}

/** Relay `/robot` to a robot's program. */
export interface RobotConnect {
  type: "robot_connect";
  /** Higher than all before it from this page. */
  n: number;
  /** ``wss://host:port``; ``ws://`` on this machine only. */
  address: string;
}

/** Switch the recorder of the simulated robot; that of a robot's program always writes. */
export interface RobotRecord {
  type: "robot_record";
  /** Higher than all before it from this page. */
  n: number;
  on: boolean;
}

/** End the simulated robot or the relay. */
export interface RobotEnd {
  type: "robot_end";
  /** Higher than all before it from this page. */
  n: number;
}

export type AnyAsked =
  Hello
  | Edit
  | Undo
  | Redo
  | PutBack
  | Keep
  | Compare
  | Show
  | Ask
  | Pull
  | Look
  | WalkStart
  | WalkWatch
  | WalkPace
  | WalkPause
  | WalkEnd
  | WalkOpen
  | WalkAt
  | Film
  | RobotStart
  | RobotConnect
  | RobotRecord
  | RobotEnd;


// From desk to page, as text --------------------------------------------------------------------

/** One key of the sheet that can be edited in place. */
export interface SheetField {
  /** ``dimensions.femur`` */
  key: string;
  /** In words: ``femur``. */
  label: string;
  /** Heading that it stands under: ``dimensions``. */
  group: string;
  /** As the sheet writes it: ``85 mm``; empty where the sheet does not say. */
  value: string;
  /** The number in `value`, in `unit`; null for words. */
  number: number | null;
  /** Empty for bare numbers and words. */
  unit: string;
  /** Least number that can be, in `unit`; null: no bound. */
  low: number | null;
  high: number | null;
  /** A handy step, in `unit`; null for words. */
  step: number | null;
  /** Stated in the sheet; found by the program; taken for want of anything stated. */
  origin: "assumed" | "derived" | "set";
  /** The only words that can be, if any: servo ids, gauges. */
  choices: string[];
  /** One sentence on its meaning. */
  about: string;
  /** The value on disk. */
  kept: string;
}

/** A gait of this robot. */
export interface Named {
  name: string;
  duty: number;
  /** Leg -> share of the cycle at which it touches down. */
  phases: Record<string, number>;
}

/** Answers `hello`, and comes again when anything in it changes. */
export interface Welcome {
  type: "welcome";
  version: number;
  robot: string;
  /** Name of the robot's folder. */
  folder: string;
  /** In it: the sheet, or the description of a robot without one. */
  file: string;
  /** What cannot be edited here, why, and how to get further; empty where a sheet makes it all. */
  fixed: string;
  about: string;
  owner: string;
  identification: string;
  /** Name of the folder that was kept last, or the robot's own. */
  variant: string;
  /** The sheet's own. */
  revision: string;
  rev: number;
  /** Leg -> its joints, base to foot. */
  legs: Record<string, string[]>;
  /** Leg -> its name on drawings: L1, R3. */
  short: Record<string, string>;
  /** The J axis of every array. */
  joints: string[];
  /** Joint -> servo id; empty where the sheet names none. */
  servos: Record<string, string>;
  /** What the study walks. */
  cases: string[];
  /** The one that is shown; empty for a walk of the user's own. */
  case: string;
  gaits: Named[];
  grounds: string[];
  recordings: string[];
  /** Folders beside the robot's that can be compared with. */
  variants: string[];
  /** The one that is; empty for what is on disk. */
  compared: string;
  /** What was assumed while reading. */
  notes: string[];
}

/** Something asked for could not be done; nothing has changed. */
export interface Refused {
  type: "refused";
  /** Of the message; 0 where it had none. */
  n: number;
  /** Of the sheet, where one is at fault. */
  key: string;
  /** What is wrong and how to cure it, for people. */
  text: string;
}

/** Something that leaves no other trace has been done. */
export interface Done {
  type: "done";
  n: number;
  text: string;
}

/** One key that differs from what is on disk. */
export interface Change {
  key: string;
  before: string;
  after: string;
}

/** What differs from what is on disk. */
export interface Edits {
  type: "edits";
  rev: number;
  list: Change[];
  /** What undo would take back, in words; empty when there is nothing. */
  undo: string;
  redo: string;
  /** Variant folder that these edits were written to; empty where they are not. */
  kept: string;
  /**
   * What came of files on disk that changed, in words; empty where none has since the last
   * edit.
   */
  read: string;
  /** Whether the files as they are now make no robot: what is shown is of before. */
  unread: boolean;
  /**
   * What the blocks of ``before`` are of: ``on disk``, or the compared variant; empty where
   * nothing lies under the robot: then pages forget what they have of it.
   */
  under: string;
}

/** What can be edited; after an edit it comes behind the picture. */
export interface Fields {
  type: "fields";
  rev: number;
  list: SheetField[];
}

/** A joint: child pose = parent pose · placement · (turn or slide along `axis` by position). */
export interface Joint {
  name: string;
  kind: "continuous" | "fixed" | "prismatic" | "revolute";
  parent: string;
  child: string;
  placement: number[];
  axis: [number, number, number];
  lower: number | null;
  /** [rad or m]; null where unlimited. */
  upper: number | null;
  /** On the J axis; −1 where no leg drive moves it. */
  column: number;
  /** Position where `column` is −1 and nothing is mimicked [rad or m]. */
  held: number;
  /** Joint that it follows: position = multiplier · its position + offset; empty: none. */
  mimics: string;
  multiplier: number;
  offset: number;
}

/** A shape of a link, in the link's frame [m]. */
export interface Solid {
  link: string;
  kind: "box" | "cylinder" | "hull" | "sphere";
  /** Box: edges; cylinder: radius, length along z; sphere: radius; hull: nothing. */
  size: number[];
  placement: number[];
  /** Of a hull, in the link's frame; empty for the other kinds. */
  corners: [number, number, number][];
  /** Of a hull, triangles seen anticlockwise from outside. */
  faces: number[][];
}

/** The robot as links, joints and solids. Comes when it changes. */
export interface Shape {
  type: "shape";
  rev: number;
  /** The edited robot, or what lies under it; see `Edits.under`. */
  who: "before" | "now";
  /** Link whose frame is the body frame. */
  body: string;
  root: string;
  /** Pose of the root link in the body frame. */
  base: number[];
  links: string[];
  /** Parents before children. */
  joints: Joint[];
  solids: Solid[];
  /** Leg -> link of its foot, foot point in that link's frame [m]. */
  feet: Record<string, [string, [number, number, number]]>;
  /** [m]; 0 where not known. */
  foot_radius: number;
  /** [kg] */
  mass: number;
}

/** A drawing at ``/drawing/NAME.svg?rev=REV&theme=light|dark``. */
export interface Drawing {
  name: string;
  title: string;
  /** Room that it comes from: electrics, fabrication. */
  group: string;
  width: number;
  /** [mm] */
  height: number;
}

/** What drawings there are of a revision. */
export interface Drawings {
  type: "drawings";
  rev: number;
  list: Drawing[];
  /** What to enter in the sheet where there are none; empty otherwise. */
  missing: string;
}

/** A verdict is being worked out; the last one stands until then. */
export interface Checking {
  type: "checking";
  rev: number;
  area: string;
  done: number;
  of: number;
}

/** One finding. */
export interface Found {
  /** Stays the same while the robot is edited. */
  id: string;
  /** Of its balloon, 1 for the worst; 0 for a pass. */
  number: number;
  area: string;
  name: string;
  verdict: "fail" | "pass" | "unknown" | "warn";
  value: number | null;
  limit: number | null;
  unit: string;
  margin: number | null;
  /** ≤ or ≥ */
  sense: string;
  why: string;
  cure: string;
  source: string;
  /** Joints, legs, links, designations. */
  parts: string[];
  assumed: boolean;
  /** Value as the sheets write it, rounded against the robot. */
  shown: string;
  /** Limit with its sense, likewise. */
  bound: string;
  /** Value before, as `shown`; empty where it is the same or was not judged. */
  was: string;
  was_verdict: "fail" | "pass" | "unknown" | "warn" | "";
  /** Of the sheet, where `source` names one that can be edited; empty otherwise. */
  key: string;
  /** Case of its worst instant, where it has one; empty otherwise. */
  case: string;
  /** Of that instant, share of the cycle. */
  phase: number | null;
  /** True while it is still of the robot before the change, and worked out anew. */
  stale: boolean;
}

/** One area of the verdict. */
export interface Area {
  name: string;
  title: string;
  verdict: "fail" | "pass" | "unknown" | "warn";
  /** Ids, worst first. */
  findings: string[];
}

/** One edge of the envelope. */
export interface Edge {
  name: string;
  gait: string;
  value: number | null;
  unit: string;
  required: number | null;
  stopped_by: string;
  parts: string[];
  /** Before. */
  was: number | null;
}

/** The hardest that one joint is used over everything that was walked. */
export interface JointSum {
  joint: string;
  servo: string;
  /** [N·m] */
  torque: number | null;
  rms_torque: number | null;
  /** [rad/s] */
  speed: number | null;
  headroom: number | null;
  /** [K] */
  winding: number | null;
  /** [s]; null: never, or not known. */
  time_to_limit: number | null;
}

/** The whole verdict on a revision. */
export interface Verdict {
  type: "verdict";
  rev: number;
  /**
   * False while a part is still worked out; then it comes again. What is not new yet is
   * marked `Found.stale`; envelope and joints are empty until they are known.
   */
  whole: boolean;
  overall: "fail" | "pass" | "unknown" | "warn";
  /** FIT TO WALK, FIT WITH CARE, NOT FIT TO WALK, NOT PROVEN. */
  stamp: string;
  /** In a sentence or two. */
  summary: string;
  counts: Record<string, number>;
  /** Before; empty where it is not known yet. */
  was_stamp: string;
  areas: Area[];
  /** Worst first. */
  findings: Found[];
  envelope: Edge[];
  joints: JointSum[];
  /** Since the edit [s]. */
  took: number;
}

/** Answers `look`: where a finding is worst. */
export interface Looked {
  type: "looked";
  n: number;
  finding: string;
  case: string;
  phase: number | null;
  parts: string[];
}

/** What the physics walk is about; a few times a second while it is walked. */
export interface Walking {
  type: "walk";
  state: "ended" | "none" | "paused" | "recording" | "starting" | "walking";
  /** Newest [s]. */
  time: number;
  ground: string;
  seed: number | null;
  gait: string;
  /** Asked, forward [m/s]. */
  speed: number | null;
  /** Asked [m]. */
  distance: number | null;
  /** Felt or blind. */
  mode: string;
  /** Asked world seconds per second; 0: as fast as it goes. */
  pace: number;
  /** World seconds per second, as it really goes. */
  factor: number;
  /** Forward since it was told to walk [m]. */
  way: number;
  /** Of the recording. */
  name: string;
  /** The one that walks or was recorded. */
  robot: string;
  /** How it ended, or what is in the way. */
  text: string;
}

/** What curves and feet of the walk are; comes before them. */
export interface WalkAbout {
  type: "walk_about";
  /** Short names. */
  legs: string[];
  /** Forward, to the left [m]. */
  hips: [number, number][];
  /**
   * The C axis of `run`: a quantity and whose it is: ``force/L1`` [N], ``current/femur`` [A],
   * ``voltage/servo`` [V], ``winding/tibia`` [°C], ``margin`` [mm], ``tilt`` [°], ``way/true`` [m].
   */
  columns: string[];
  /** [N] */
  weight: number | null;
  /** [mm] */
  wanted_margin: number | null;
  /** [V] */
  lowest_voltage: number | null;
  /** [°C] */
  highest_winding: number | null;
  /** Whether it is known what was really so. */
  truth: boolean;
  /** Whether its moments fit the robot that is drawn. */
  drawn: boolean;
  notes: string[];
}

/** Walks that can be opened, the newest first. */
export interface Recordings {
  type: "recordings";
  list: string[];
  /** Where they are kept; empty where they go with the desk. */
  folder: string;
}

/** Something that happened while walking. */
export interface Happening {
  time: number;
  what: string;
  leg: string;
  text: string;
}

/** What happened since the last message of this kind. */
export interface WalkEvents {
  type: "walk_events";
  /** Whether all before is to be forgotten. */
  start: boolean;
  list: Happening[];
}

/** A film strip at ``/film/ID.png``. */
export interface FilmReady {
  type: "film";
  n: number;
  id: string;
  title: string;
}

/** What sticks and buttons of a game controller do, as the sheet says. */
export interface Hand {
  /** Stick by side: ``left y``. */
  forward: string;
  sideways: string;
  turn: string;
  forward_reversed: boolean;
  /** Button by place: ``right shoulder``. */
  deadman: string;
  stop: string;
  power: string;
  stand: string;
  sit: string;
  next_gait: string;
  /** Deflection below which a stick counts as released. */
  dead_zone: number;
  /** Share of the cube in a stick's response. */
  expo: number;
  /** At full deflection: forward, sideways [m/s], turn [rad/s]. */
  full: [number, number, number];
  /** What is leafed through. */
  gaits: string[];
}

/** Whether a robot can be driven at ``/robot``. */
export interface RobotState {
  type: "robot";
  state: "none" | "relayed" | "simulated" | "starting";
  /** Where it is; empty for the simulated one. */
  address: string;
  /** What is in the way. */
  text: string;
  hand: Hand;
}

export type AnySaid =
  Welcome
  | Refused
  | Done
  | Edits
  | Fields
  | Shape
  | Checking
  | Verdict
  | Looked
  | Drawings
  | Walking
  | WalkAbout
  | Recordings
  | WalkEvents
  | FilmReady
  | RobotState;


// From desk to page, as blocks ------------------------------------------------------------------

/** One array of a block. */
export interface ArrayPlace {
  name: string;
  shape: number[];
}

/** What the numbers of a cycle are held against; lists run along the J axis. */
export interface Limits {
  /** Required stability margin [m]. */
  margin: number | null;
  friction: number;
  torque_reserve: number;
  /** [rad] */
  lower: (number | null)[];
  upper: (number | null)[];
  /** No-load speed at the least voltage [rad/s]. */
  speed: (number | null)[];
  /** Torque that may be held for ever [N·m]. */
  continuous: (number | null)[];
  /** Highest winding temperature [K]. */
  winding: (number | null)[];
  /** Lowest voltage that the servo works at [V]. */
  voltage: (number | null)[];
  /** [K] */
  ambient: number;
}

/**
 * One cycle of the shown walk; T samples, L legs, J joints, N points of a line.
 *
 * t (T) [s] · q (T,J) [rad] · body (T,7): body frame in the ground frame, x, y, z [m],
 * quaternion w, x, y, z · feet (T,L,3): foot points in the body frame [m] · contact (T,L) 0/1 ·
 * torque (T,J) [N·m] · available (T,J): torque that the servo can give at that instant ·
 * speed (T,J) [rad/s] · current (T,J): into the servo [A] · force (T,L,3): ground on foot, body
 * axes [N] · margin (T) [m] · com (T,3): body frame [m] · voltage (T,J): at the servo [V] ·
 * heat (T,J): copper loss [W] · winding (J): where the temperature settles [K] · minutes (J):
 * from cold to the highest winding temperature, inf: never · rms (J): torque [N·m] · support
 * (T,L): legs at the corners of the support polygon, counter-clockwise from above, then −1 ·
 * line_speed (J,N), line_torque (J,N): torque-speed line at the least voltage of the cycle.
 */
export interface Cycle {
  type: "cycle";
  rev: number;
  arrays: ArrayPlace[];
  /** The edited robot, or what lies under it; see `Edits.under`. */
  who: "before" | "now";
  /** Name of the case; empty for a walk of the user's own. */
  case: string;
  gait: string;
  duty: number;
  /** Of the legs in order. */
  phases: number[];
  /** [s] */
  cycle: number;
  velocity: [number, number];
  turn: number;
  slope: number;
  uphill: number;
  /** Body frame over the foot points [m]. */
  height: number;
  legs: string[];
  joints: string[];
  limits: Limits;
  /** Whether every foot reaches its path. */
  ok: boolean;
  /** Whether voltage and current are those of the circuit, not of a battery at its cut-off. */
  fed: boolean;
  /** Phase at which a joint comes nearest to what its servo can give; −1 where not known. */
  worst: number;
  /** What is in the way of this walk, or was assumed. */
  note: string;
}

/**
 * Outlines of what legs reach in their own vertical plane.
 *
 * One array (N, 2) per leg, named after it: distance from the hip axis outward, height in the
 * body frame [m].
 */
export interface Reach {
  type: "reach";
  rev: number;
  arrays: ArrayPlace[];
  who: "before" | "now";
  /** Leg -> share of the reachable region that lies inside the joint limits. */
  inside: Record<string, number>;
  /** Leg -> hip axis in the body frame [m]. */
  hips: Record<string, [number, number, number]>;
  /** Leg -> unit direction of its plane, body x, y. */
  outward: Record<string, [number, number]>;
}

/** Two links that come near each other over the shown cycle. */
export interface Near {
  links: [string, string];
  /** Least over the cycle [m]; negative where they overlap, by the depth. */
  distance: number;
  /** Where that is, share of the cycle. */
  phase: number;
}

/**
 * Where links come nearest to each other over the shown cycle.
 *
 * points (P,2,3): the nearest point on each of a pair's links, in that link's frame [m].
 */
export interface Nearness {
  type: "nearness";
  rev: number;
  arrays: ArrayPlace[];
  /** Name of the case; empty for a walk of the user's own. */
  case: string;
  /** Nearest first; P of them. */
  pairs: Near[];
  /** Distance that the sheet asks for [m]. */
  wanted: number | null;
}

/**
 * Answers `pull`: the whole pose.
 *
 * q (J) [rad] · body (7): body frame in the ground frame · feet (L,3): body frame [m] ·
 * margin (1) [m] · com (3): body frame [m] · error (L): by how far each foot misses its place [m].
 */
export interface Pulled {
  type: "pulled";
  rev: number;
  arrays: ArrayPlace[];
  n: number;
  /** Whether everything is where it was pulled, inside the limits. */
  ok: boolean;
  /** Joints at their limits. */
  stopped: string[];
  /** What is in the way, in words. */
  text: string;
}

/** One item of the circuit, battery's side first. */
export interface Wire {
  /** Designation, as drawings name it: ``-W3``. */
  part: string;
  kind: string;
  name: string;
  /** Of a wire: ``20 AWG``. */
  size: string;
  /** Its name in the sheet's harness. */
  conductor: string;
  /** Of the sheet, where its gauge can be changed; empty otherwise. */
  key: string;
  /** Of the hub; empty ahead of it. */
  branch: string;
  /** One way [m]. */
  length: number | null;
  /** [A] */
  rating: number | null;
  /** Highest temperature of the insulation [K]. */
  highest: number | null;
  /** Where it settles in this case [K]. */
  temperature: number | null;
  /** [A] */
  rms: number | null;
  /** [A] */
  peak: number | null;
  /** Largest voltage lost, there and back [V]. */
  lost: number | null;
}

/** What takes power. */
export interface Consumer {
  part: string;
  name: string;
  kind: string;
  /** Lowest voltage at it in this case [V]. */
  lowest: number | null;
  /** Lowest that it works at [V]. */
  least: number | null;
}

/**
 * The circuit over one cycle; E items, C consumers.
 *
 * current (T,E) [A] · drop (T,E) [V], there and back · voltage (T,C): at each consumer [V] ·
 * terminal (T): at the battery's terminals [V] · battery (T): its current [A].
 */
export interface CircuitBlock {
  type: "circuit";
  rev: number;
  arrays: ArrayPlace[];
  who: "before" | "now";
  case: string;
  wires: Wire[];
  consumers: Consumer[];
  /** Its designation. */
  battery: string;
  /** State of charge of the battery, 0 to 1. */
  charge: number;
  /** Average from the battery [W]. */
  power: number | null;
  brown_out: boolean;
}

/**
 * One moment of the walk.
 *
 * q (J) [rad] · body (7): in the ground frame, x, y, z [m], quaternion w, x, y, z · force (L,3):
 * true, body axes [N] · felt (L): upward [N] · touch (L): truly on the ground, 0/1 · contact (L):
 * felt to be, 0/1 · current (J) [A] · winding (J) [K] · voltage (J): at the servos [V] ·
 * margin (1) [m].
 */
export interface Moment {
  type: "moment";
  rev: number;
  arrays: ArrayPlace[];
  time: number;
  /** Whether it is now; otherwise it answers `walk_at`. */
  live: boolean;
}

/**
 * Curves of the walk in bins of equal width, and when feet came down and lifted.
 *
 * low, high (n,C): least and greatest of each bin · edges (m,4): leg, 0 true or 1 felt, time
 * [s], 1 down or 0 up.
 */
export interface Run {
  type: "run";
  rev: number;
  arrays: ArrayPlace[];
  /** Whether all before is to be forgotten. */
  start: boolean;
  /** Index of the first bin here; the bin itself may have been sent before. */
  at: number;
  /** Of a bin [s]; the first begins at 0. */
  width: number;
  /** Newest [s]. */
  time: number;
}

/** The ground of the walk as a grid: heights (R,C) at start + spacing · (row, column) [m]. */
export interface Land {
  type: "land";
  rev: number;
  arrays: ArrayPlace[];
  /** [m] */
  spacing: number;
  /** x, y of the first height [m]. */
  origin: [number, number];
}

export type AnyBlock =
  Cycle
  | Reach
  | Nearness
  | Pulled
  | CircuitBlock
  | Moment
  | Run
  | Land;

/** A block's arrays by name, as views into the frame. */
export type Arrays = Record<string, Float32Array>;

/** A block: header and arrays. */
export interface Received {
  header: AnyBlock;
  arrays: Arrays;
}

/** Take a binary frame apart; throws where it is too short for what its header names. */
export function readBlock(frame: ArrayBuffer): Received {
  const length = new DataView(frame).getUint32(0, true);
  const text = new TextDecoder().decode(new Uint8Array(frame, 4, length));
  const header = JSON.parse(text) as AnyBlock;
  const arrays: Arrays = {};
  let at = 4 + length;
  for (const { name, shape } of header.arrays) {
    const count = shape.reduce((product, n) => product * n, 1);
    arrays[name] = new Float32Array(frame, at, count);
    at += 4 * count;
  }
  return { header, arrays };
}
