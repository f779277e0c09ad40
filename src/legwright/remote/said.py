"""What the robot sends: one struct per message, tagged by `type` (docs/protocol.md).

Times are the robot's steady clock [s]: good for differences and for `heard`, never for dates.
A number that is not known is null.
"""

from __future__ import annotations

from msgspec import Struct

Row = tuple[float | None, ...]


class Said(Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="type"):
    """A message from robot to client."""


class Limits(Struct, frozen=True, kw_only=True):
    """What readings are held against; rows run as `Card.joints`, null where not known."""

    current: Row
    """Of each winding, where a fault is told if it lasts [A]."""
    winding: Row
    """Highest winding temperature [K]."""
    volts: Row
    """Lowest voltage at which each drive works [V]."""
    voltage: float | None
    """Lowest of the supply [V]."""
    lower: Row
    """Least joint position [rad]."""
    upper: Row


class Card(Struct, frozen=True, kw_only=True):
    """What a client needs to know about the robot."""

    name: str
    legs: dict[str, tuple[str, ...]]
    """Leg -> its joints, base to foot."""
    joints: tuple[str, ...]
    """The order of all rows of joints."""
    gaits: tuple[str, ...]
    rate: float
    """Bus cycles per second [Hz]."""
    real: bool = False
    """Whether something moves that can hurt."""
    fields: tuple[str, ...] = ()
    """Fields of `state` that may be asked for; empty: those of the first robots, without
    `volts`, `errors`, `lights` and `recorded`."""
    limits: Limits | None = None


class Welcome(Said, frozen=True, kw_only=True, tag="welcome"):
    """Answers `hello`."""

    version: int
    """Protocol version that will be spoken."""
    session: str
    robot: Card
    time: float
    role: str = ""
    """`watch`, `drive` or `maintain`; empty until signed in."""
    name: str = ""


class Signed(Said, frozen=True, kw_only=True, tag="signed"):
    """Answers `sign-in`."""

    role: str
    name: str


class Pong(Said, frozen=True, kw_only=True, tag="pong"):
    """Answers `ping`."""

    n: int
    time: float


class Answer(Said, frozen=True, kw_only=True, tag="answer"):
    """Whether a numbered message was taken up."""

    n: int
    ok: bool
    time: float
    word: str = ""
    """Why not, for programs: see the table in docs/protocol.md."""
    text: str = ""
    """Why not and what to do, one sentence."""
    what: str = ""
    """Where a value made no sense (word `value`): the field of the message, or what it is of."""
    value: str = ""
    """What was found there, in words."""
    allowed: str = ""
    """And what would have been accepted."""


class Ended(Said, frozen=True, kw_only=True, tag="ended"):
    """A motion has come to its end, good or bad."""

    n: int
    """Of the message that asked for it."""
    ok: bool
    time: float
    word: str = ""
    text: str = ""
    foot: Row | None = None
    """Where the foot touched: body frame, x, y, z [m]."""
    force: float | None = None
    """Force of the ground, median of what was felt in the 0.1 s after [N]."""


class Driver(Said, frozen=True, kw_only=True, tag="driver"):
    """Who has the driver's place; sent when it changes."""

    session: str
    """Empty when nobody has."""
    name: str
    time: float


class Event(Said, frozen=True, kw_only=True, tag="event"):
    """Something happened to the robot."""

    time: float
    what: str
    """A word of the documented list: of a fault, `mode`, `cleared`, `refused`, `touched`, ..."""
    text: str
    """One sentence for people."""
    leg: str = ""
    foot: Row | None = None
    """Of that leg, body frame [m]."""
    force: float | None = None
    """[N]"""


class Error(Said, frozen=True, kw_only=True, tag="error"):
    """A message that was no message, or a session that ends."""

    word: str
    text: str
    fatal: bool = False
    """The connection is closed after this."""


class State(Said, frozen=True, kw_only=True, tag="state"):
    """The robot in one cycle; only fields that were asked for are there."""

    stream: str
    time: float
    mode: str | None = None
    faults: tuple[str, ...] | None = None
    voltage: float | None = None
    """[V]"""
    margin: float | None = None
    """Static stability margin [m]."""
    place: Row | None = None
    """Odometry: x, y [m], yaw [rad]."""
    up: Row | None = None
    """Against gravity, body frame."""
    q: Row | None = None
    """Joint positions [rad]; all rows of joints run as `Card.joints`."""
    qd: Row | None = None
    """[rad/s]"""
    current: Row | None = None
    """[A]"""
    winding: Row | None = None
    """Temperatures [K]."""
    powered: tuple[bool, ...] | None = None
    volts: Row | None = None
    """Supply voltage at each drive [V]."""
    errors: tuple[int, ...] | None = None
    """Error codes of the drives, as CiA 402 object 603F codes them; 0 for none."""
    targets: Row | None = None
    """What the joints were told [rad]."""
    contact: tuple[bool, ...] | None = None
    """Feet that the robot stands on; all rows of legs run as `Card.legs`."""
    force: Row | None = None
    """Felt force of the ground [N]."""
    feet: tuple[Row, ...] | None = None
    """Feet in the body frame [m]."""
    lights: tuple[str, ...] | None = None
    """Colour of each light as a screen takes it, ``#rrggbb``; empty where there are none."""
    recorded: bool | None = None
    """Whether the robot's recorder writes."""


FIELDS = tuple(name for name in State.__struct_fields__ if name not in ("stream", "time"))
"""Fields that may be asked for."""
BASIC = ("mode", "faults", "voltage", "place")
"""Fields of a subscription that names none."""

AnySaid = Welcome | Signed | Pong | Answer | Ended | Driver | Event | Error | State
"""All that the robot may send."""
