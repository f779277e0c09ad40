"""What a client may send: one struct per message, tagged by `type` (docs/protocol.md).

Every message but `hello` and `sign-in` carries a number `n` that rises within its session. What
asks the robot to do something also says the newest robot time that its sender has heard
(`heard`) and how long after that it may still be obeyed (`ttl`): no clocks need to agree, and
what was stuck in a dead connection is too old when it comes out. A stop has neither: it always
counts.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

VERSION = 1
"""Of the protocol; both sides say theirs, and the lower one is spoken."""


class Asked(Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="type"):
    """A message from client to robot."""


class Hello(Asked, frozen=True, kw_only=True, tag="hello"):
    """The first message of a session."""

    version: int
    """Highest protocol version that the client speaks."""
    client: str = ""
    """Name and version of the program, for the record."""


class SignIn(Asked, frozen=True, kw_only=True, tag="sign-in"):
    """Who is there; needless where a client certificate said it already."""

    token: str


class Numbered(Asked, frozen=True, kw_only=True):
    """A message with a number."""

    n: int
    """Higher than all before it in this session; given back in the answer."""


class Ping(Numbered, frozen=True, kw_only=True, tag="ping"):
    """Answered by `pong` with the robot's time."""


class Take(Numbered, frozen=True, kw_only=True, tag="take"):
    """Take the driver's place."""

    force: bool = False
    """Take it from who has it; only the role `maintain` may."""


class Give(Numbered, frozen=True, kw_only=True, tag="give"):
    """Give up the driver's place."""


class HandOver(Numbered, frozen=True, kw_only=True, tag="hand-over"):
    """Hand the driver's place to another session that may drive."""

    to: str
    """Its session, as `driver` and `welcome` name it."""


class Subscribe(Numbered, frozen=True, kw_only=True, tag="subscribe"):
    """Ask for a stream of `state` messages."""

    stream: str = "state"
    """Name of the stream, chosen by the client; asking again changes it."""
    rate: float = 20.0
    """Messages per second of robot time, at most the bus rate [Hz]."""
    fields: tuple[str, ...] = ()
    """Fields of `state` wanted; a basic few when empty."""
    depth: int = 1
    """How many wait for a slow reader; older ones are dropped."""


class Unsubscribe(Numbered, frozen=True, kw_only=True, tag="unsubscribe"):
    """End a stream."""

    stream: str = "state"


class Stop(Numbered, frozen=True, kw_only=True, tag="stop"):
    """Stop; from anyone signed in, at any time, whatever its number."""

    n: int = 0
    category: Literal[0, 1, 2] = 1
    """After IEC 60204-1: 0 power off at once, 1 sit down first, 2 stand still with power."""


class Timed(Numbered, frozen=True, kw_only=True):
    """A message that grows old."""

    heard: float
    """Newest robot time in any message that the sender has had [s]."""
    ttl: float = 0.25
    """How long after `heard` it may be obeyed [s]; motion at most 0.25, all else at most 5."""


class Alive(Timed, frozen=True, kw_only=True, tag="alive"):
    """The driver is there: renews the motion under way. Send it ten times a second."""


class Power(Timed, frozen=True, kw_only=True, tag="power"):
    """Switch drive power on."""


class Release(Timed, frozen=True, kw_only=True, tag="release"):
    """Switch drive power off; a robot on its feet sits down first."""


class Acknowledge(Timed, frozen=True, kw_only=True, tag="acknowledge"):
    """Faults have been seen, and their causes are gone."""


class Posed(Timed, frozen=True, kw_only=True):
    """A motion for which the body can be posed."""

    height: float | None = None
    """Of the body frame over the ground; the robot's own when left out [m]."""
    pose: tuple[float, float, float, float, float, float] | None = None
    """Body over its place: x, y, z [m], roll, pitch, yaw [rad]."""


class Stand(Posed, frozen=True, kw_only=True, tag="stand"):
    """Get up if need be, and stand."""


class Walk(Posed, frozen=True, kw_only=True, tag="walk"):
    """Walk for as long as `alive` comes, or until `seconds` are over."""

    forward: float = 0.0
    """[m/s]"""
    left: float = 0.0
    """[m/s]"""
    turn: float = 0.0
    """To the left [rad/s]."""
    gait: str = ""
    """One of the robot's gaits; its default when empty."""
    seconds: float | None = None
    """The robot stands still after that many seconds of its time."""


class Sit(Timed, frozen=True, kw_only=True, tag="sit"):
    """Lower the body to the ground; drive power stays on."""


class Hold(Timed, frozen=True, kw_only=True, tag="hold"):
    """Freeze as soon as the feet in the air have landed."""


class Lift(Timed, frozen=True, kw_only=True, tag="lift"):
    """Lift one leg, and keep it in the air for as long as `alive` comes."""

    leg: str
    height: float | None = None
    """Of the foot over the ground [m]."""


class Place(Timed, frozen=True, kw_only=True, tag="place"):
    """Set one foot down."""

    leg: str
    target: tuple[float, float] | None = None
    """Forward, to the left of the body's place [m]; straight down when left out."""


class Probe(Timed, frozen=True, kw_only=True, tag="probe"):
    """Lower one foot until the ground pushes back."""

    leg: str
    push: float = 5.0
    """Force at which it has touched [N]."""
    target: tuple[float, float] | None = None
    """As in `place`."""


class Trajectory(Timed, frozen=True, kw_only=True, tag="trajectory"):
    """Lead some legs along a path while the others stand; checked before it runs."""

    legs: dict[str, tuple[tuple[float, ...], ...]]
    """Leg -> a row for each time: joint positions, base to foot [rad], or the foot's place in the
    body frame, x, y, z [m]."""
    times: tuple[float, ...]
    """When each row is reached, from the start [s]."""
    space: Literal["joints", "feet"] = "feet"


Motion = Stand | Walk | Sit | Hold | Lift | Place | Probe | Trajectory
"""Asks that move the robot."""
AnyAsked = (
    Hello | SignIn | Ping | Take | Give | HandOver | Subscribe | Unsubscribe | Stop | Alive | Power
    | Release | Acknowledge | Stand | Walk | Sit | Hold | Lift | Place | Probe
    | Trajectory
)  # fmt: skip
"""All that a client may send."""
