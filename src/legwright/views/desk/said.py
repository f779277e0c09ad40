"""What the desk sends to its pages as text: one struct per message, tagged by `type`.

Arrays go as blocks, see `legwright.views.desk.blocks`. A number that is not known is null.
Every state of the edited robot has a revision `rev`; it rises with each edit, undo and redo.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

Word = Literal["pass", "warn", "fail", "unknown"]
Matrix = tuple[float, ...]
"""A pose, (4, 4) row by row."""


class Said(Struct, frozen=True, kw_only=True, tag_field="type"):
    """A message from desk to page."""


class Field(Struct, frozen=True, kw_only=True):
    """One key of the sheet that can be edited in place."""

    key: str
    """``dimensions.femur``"""
    label: str
    """In words: ``femur``."""
    group: str
    """Heading that it stands under: ``dimensions``."""
    value: str
    """As the sheet writes it: ``85 mm``; empty where the sheet does not say."""
    number: float | None
    """The number in `value`, in `unit`; null for words."""
    unit: str
    """Empty for bare numbers and words."""
    low: float | None
    """Least number that can be, in `unit`; null: no bound."""
    high: float | None
    step: float | None
    """A handy step, in `unit`; null for words."""
    origin: Literal["set", "derived", "assumed"]
    """Stated in the sheet; found by the program; taken for want of anything stated."""
    choices: tuple[str, ...]
    """The only words that can be, if any: servo ids, gauges."""
    about: str
    """One sentence on its meaning."""
    kept: str
    """The value on disk."""


class Named(Struct, frozen=True, kw_only=True):
    """A gait of this robot."""

    name: str
    duty: float
    phases: dict[str, float]
    """Leg -> share of the cycle at which it touches down."""


class Welcome(Said, frozen=True, kw_only=True, tag="welcome"):
    """Answers `hello`, and comes again when anything in it changes."""

    version: int
    robot: str
    folder: str
    """Name of the robot's folder."""
    about: str
    owner: str
    identification: str
    variant: str
    """Name of the folder that was kept last, or the robot's own."""
    revision: str
    """The sheet's own."""
    rev: int
    legs: dict[str, tuple[str, ...]]
    """Leg -> its joints, base to foot."""
    short: dict[str, str]
    """Leg -> its name on drawings: L1, R3."""
    joints: tuple[str, ...]
    """The J axis of every array."""
    servos: dict[str, str]
    """Joint -> servo id; empty where the sheet names none."""
    fields: tuple[Field, ...]
    cases: tuple[str, ...]
    """What the study walks."""
    case: str
    """The one that is shown; empty for a walk of the user's own."""
    gaits: tuple[Named, ...]
    grounds: tuple[str, ...]
    recordings: tuple[str, ...]
    variants: tuple[str, ...]
    """Folders beside the robot's that can be compared with."""
    compared: str
    """The one that is; empty for what is on disk."""
    notes: tuple[str, ...]
    """What was assumed while reading."""


class Refused(Said, frozen=True, kw_only=True, tag="refused"):
    """Something asked for could not be done; nothing has changed."""

    n: int
    """Of the message; 0 where it had none."""
    key: str
    """Of the sheet, where one is at fault."""
    text: str
    """What is wrong and how to cure it, for people."""


class Done(Said, frozen=True, kw_only=True, tag="done"):
    """Something that leaves no other trace has been done."""

    n: int
    text: str


class Change(Struct, frozen=True, kw_only=True):
    """One key that differs from what is on disk."""

    key: str
    before: str
    after: str


class Edits(Said, frozen=True, kw_only=True, tag="edits"):
    """What differs from what is on disk."""

    rev: int
    list: tuple[Change, ...]
    undo: str
    """What undo would take back, in words; empty when there is nothing."""
    redo: str
    kept: str
    """Variant folder that these edits were written to; empty where they are not."""
    under: str
    """What the blocks of ``before`` are of: ``on disk``, or the compared variant; empty where
    nothing lies under the robot: then pages forget what they have of it."""
    fields: tuple[Field, ...]
    """All fields anew."""


class Joint(Struct, frozen=True, kw_only=True):
    """A joint: child pose = parent pose · placement · (turn or slide along `axis` by position)."""

    name: str
    kind: Literal["revolute", "continuous", "prismatic", "fixed"]
    parent: str
    child: str
    placement: Matrix
    axis: tuple[float, float, float]
    lower: float | None
    upper: float | None
    """[rad or m]; null where unlimited."""
    column: int
    """On the J axis; −1 where no leg drive moves it."""
    held: float
    """Position where `column` is −1 and nothing is mimicked [rad or m]."""
    mimics: str
    """Joint that it follows: position = multiplier · its position + offset; empty: none."""
    multiplier: float
    offset: float


class Solid(Struct, frozen=True, kw_only=True):
    """A shape of a link, in the link's frame [m]."""

    link: str
    kind: Literal["box", "cylinder", "sphere", "hull"]
    size: tuple[float, ...]
    """Box: edges; cylinder: radius, length along z; sphere: radius; hull: nothing."""
    placement: Matrix
    corners: tuple[tuple[float, float, float], ...]
    """Of a hull, in the link's frame; empty for the other kinds."""
    faces: tuple[tuple[int, ...], ...]
    """Of a hull, triangles seen anticlockwise from outside."""


class Shape(Said, frozen=True, kw_only=True, tag="shape"):
    """The robot as links, joints and solids. Comes when it changes."""

    rev: int
    who: Literal["now", "before"]
    """The edited robot, or what lies under it; see `Edits.under`."""
    body: str
    """Link whose frame is the body frame."""
    root: str
    base: Matrix
    """Pose of the root link in the body frame."""
    links: tuple[str, ...]
    joints: tuple[Joint, ...]
    """Parents before children."""
    solids: tuple[Solid, ...]
    feet: dict[str, tuple[str, tuple[float, float, float]]]
    """Leg -> link of its foot, foot point in that link's frame [m]."""
    foot_radius: float
    """[m]; 0 where not known."""
    mass: float
    """[kg]"""


class Checking(Said, frozen=True, kw_only=True, tag="checking"):
    """A verdict is being worked out; the last one stands until then."""

    rev: int
    area: str
    done: int
    of: int


class Found(Struct, frozen=True, kw_only=True):
    """One finding."""

    id: str
    """Stays the same while the robot is edited."""
    number: int
    """Of its balloon, 1 for the worst; 0 for a pass."""
    area: str
    name: str
    verdict: Word
    value: float | None
    limit: float | None
    unit: str
    margin: float | None
    sense: str
    """≤ or ≥"""
    why: str
    cure: str
    source: str
    parts: tuple[str, ...]
    """Joints, legs, links, designations."""
    assumed: bool
    shown: str
    """Value as the sheets write it, rounded against the robot."""
    bound: str
    """Limit with its sense, likewise."""
    was: str
    """Value before, as `shown`; empty where it is the same or was not judged."""
    was_verdict: Word | Literal[""]
    key: str
    """Of the sheet, where `source` names one that can be edited; empty otherwise."""
    case: str
    """Case of its worst instant, where it has one; empty otherwise."""
    phase: float | None
    """Of that instant, share of the cycle."""
    stale: bool
    """True while it is still of the robot before the change, and worked out anew."""


class Area(Struct, frozen=True, kw_only=True):
    """One area of the verdict."""

    name: str
    title: str
    verdict: Word
    findings: tuple[str, ...]
    """Ids, worst first."""


class Edge(Struct, frozen=True, kw_only=True):
    """One edge of the envelope."""

    name: str
    gait: str
    value: float | None
    unit: str
    required: float | None
    stopped_by: str
    parts: tuple[str, ...]
    was: float | None
    """Before."""


class JointSum(Struct, frozen=True, kw_only=True):
    """The hardest that one joint is used over everything that was walked."""

    joint: str
    servo: str
    torque: float | None
    """[N·m]"""
    rms_torque: float | None
    speed: float | None
    """[rad/s]"""
    headroom: float | None
    winding: float | None
    """[K]"""
    time_to_limit: float | None
    """[s]; null: never, or not known."""


class Verdict(Said, frozen=True, kw_only=True, tag="verdict"):
    """The whole verdict on a revision."""

    rev: int
    whole: bool
    """False while a part is still worked out; then it comes again. What is not new yet is
    marked `Found.stale`; envelope and joints are empty until they are known."""
    overall: Word
    stamp: str
    """FIT TO WALK, FIT WITH CARE, NOT FIT TO WALK, NOT PROVEN."""
    summary: str
    """In a sentence or two."""
    counts: dict[str, int]
    was_stamp: str
    """Before; empty where it is not known yet."""
    areas: tuple[Area, ...]
    findings: tuple[Found, ...]
    """Worst first."""
    envelope: tuple[Edge, ...]
    joints: tuple[JointSum, ...]
    took: float
    """Since the edit [s]."""


class Looked(Said, frozen=True, kw_only=True, tag="looked"):
    """Answers `look`: where a finding is worst."""

    n: int
    finding: str
    case: str
    phase: float | None
    parts: tuple[str, ...]


class Drawing(Struct, frozen=True, kw_only=True):
    """A drawing at ``/drawing/NAME.svg?rev=REV&theme=light|dark``."""

    name: str
    title: str
    group: str
    """Room that it comes from: electrics, fabrication."""
    width: float
    height: float
    """[mm]"""


class Drawings(Said, frozen=True, kw_only=True, tag="drawings"):
    """What drawings there are of a revision."""

    rev: int
    list: tuple[Drawing, ...]
    missing: str
    """What to enter in the sheet where there are none; empty otherwise."""


# Walking in the physics world (owned by the walk view) --------------------------------------


class Walking(Said, frozen=True, kw_only=True, tag="walk"):
    """What the physics walk is about; a few times a second while it is walked."""

    state: Literal["none", "starting", "walking", "paused", "ended", "recording"]
    time: float
    """Newest [s]."""
    ground: str
    seed: int | None
    gait: str
    speed: float | None
    """Asked, forward [m/s]."""
    distance: float | None
    """Asked [m]."""
    mode: str
    """Felt or blind."""
    pace: float
    """Asked world seconds per second; 0: as fast as it goes."""
    factor: float
    """World seconds per second, as it really goes."""
    way: float
    """Forward since it was told to walk [m]."""
    name: str
    """Of the recording."""
    robot: str
    """The one that walks or was recorded."""
    text: str
    """How it ended, or what is in the way."""


class WalkAbout(Said, frozen=True, kw_only=True, tag="walk_about"):
    """What curves and feet of the walk are; comes before them."""

    legs: tuple[str, ...]
    """Short names."""
    hips: tuple[tuple[float, float], ...]
    """Forward, to the left [m]."""
    columns: tuple[str, ...]
    """The C axis of `run`: a quantity and whose it is: ``force/L1`` [N], ``current/femur`` [A],
    ``voltage/servo`` [V], ``winding/tibia`` [°C], ``margin`` [mm], ``tilt`` [°], ``way/true`` [m].
    """
    weight: float | None
    """[N]"""
    wanted_margin: float | None
    """[mm]"""
    lowest_voltage: float | None
    """[V]"""
    highest_winding: float | None
    """[°C]"""
    truth: bool
    """Whether it is known what was really so."""
    drawn: bool
    """Whether its moments fit the robot that is drawn."""
    notes: tuple[str, ...]


class Recordings(Said, frozen=True, kw_only=True, tag="recordings"):
    """Walks that can be opened, the newest first."""

    list: tuple[str, ...]
    folder: str
    """Where they are kept; empty where they go with the desk."""


class Happening(Struct, frozen=True, kw_only=True):
    """Something that happened while walking."""

    time: float
    what: str
    leg: str
    text: str


class WalkEvents(Said, frozen=True, kw_only=True, tag="walk_events"):
    """What happened since the last message of this kind."""

    start: bool
    """Whether all before is to be forgotten."""
    list: tuple[Happening, ...]


class FilmReady(Said, frozen=True, kw_only=True, tag="film"):
    """A film strip at ``/film/ID.png``."""

    n: int
    id: str
    title: str


class Hand(Struct, frozen=True, kw_only=True):
    """What sticks and buttons of a game controller do, as the sheet says."""

    forward: str
    """Stick by side: ``left y``."""
    sideways: str
    turn: str
    forward_reversed: bool
    deadman: str
    """Button by place: ``right shoulder``."""
    stop: str
    power: str
    stand: str
    sit: str
    next_gait: str
    dead_zone: float
    """Deflection below which a stick counts as released."""
    expo: float
    """Share of the cube in a stick's response."""
    full: tuple[float, float, float]
    """At full deflection: forward, sideways [m/s], turn [rad/s]."""
    gaits: tuple[str, ...]
    """What is leafed through."""


class RobotState(Said, frozen=True, kw_only=True, tag="robot"):
    """Whether a robot can be driven at ``/robot``."""

    state: Literal["none", "starting", "simulated", "relayed"]
    address: str
    """Where it is; empty for the simulated one."""
    text: str
    """What is in the way."""
    hand: Hand


AnySaid = (
    Welcome | Refused | Done | Edits | Shape | Checking | Verdict | Looked | Drawings
    | Walking | WalkAbout | Recordings | WalkEvents | FilmReady | RobotState
)  # fmt: skip
"""All that the desk may say as text."""
