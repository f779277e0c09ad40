"""What a page may send to the desk: one struct per message, tagged by `type` (docs/desk.md).

Every message but `hello` carries a number `n` that rises within its page and comes back in
`refused`. The types of the page are made from these: `python docs/make_desk_types.py`.
"""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

VERSION = 1
"""Of this protocol; page and server come from one wheel and must say the same."""


class Asked(Struct, frozen=True, kw_only=True, tag_field="type"):
    """A message from page to desk."""


class Hello(Asked, frozen=True, kw_only=True, tag="hello"):
    """The first message of a page; everything that it needs to draw follows."""

    version: int


class Numbered(Asked, frozen=True, kw_only=True):
    """A message with a number."""

    n: int
    """Higher than all before it from this page."""


# The robot ----------------------------------------------------------------------------------


class Edit(Numbered, frozen=True, kw_only=True, tag="edit"):
    """Change one key of the sheet, in memory."""

    key: str
    """As a `Field` names it: ``dimensions.femur``."""
    value: str
    """As one types it: ``90 mm``, ``0.6``, ``dunnock``; empty goes back to what is on disk."""


class Undo(Numbered, frozen=True, kw_only=True, tag="undo"):
    """Take back the last edit."""


class Redo(Numbered, frozen=True, kw_only=True, tag="redo"):
    """Bring back what was undone."""


class PutBack(Numbered, frozen=True, kw_only=True, tag="put_back"):
    """Back to what is on disk, all of it; can be undone."""


class Keep(Numbered, frozen=True, kw_only=True, tag="keep"):
    """Write the edits as a new variant folder beside the robot's; the only message that writes."""

    name: str
    """Of the folder, plain."""


class Compare(Numbered, frozen=True, kw_only=True, tag="compare"):
    """Lay another variant over this one."""

    variant: str
    """One of `Welcome.variants`; empty ends it: then what is on disk is laid under the edits."""


# What is walked -----------------------------------------------------------------------------


class Show(Numbered, frozen=True, kw_only=True, tag="show"):
    """Show one of the cases that the study walks."""

    case: str
    """One of `Welcome.cases`."""


class Ask(Numbered, frozen=True, kw_only=True, tag="ask"):
    """Show a walk of one's own."""

    gait: str
    """One of `Welcome.gaits`; where `duty` or `phases` are given they replace its own."""
    velocity: tuple[float, float] = (0.0, 0.0)
    """Forward, to the left [m/s]."""
    turn: float = 0.0
    """To the left [rad/s]."""
    duty: float | None = None
    """Share of the cycle that each foot stands."""
    phases: dict[str, float] | None = None
    """Leg -> share of the cycle at which it touches down."""
    cycle: float | None = None
    """[s]; the one that strains the robot least when left out."""
    lift: float | None = None
    """[m]"""
    body_height: float | None = None
    """Body frame over the foot points [m]."""
    slope: float = 0.0
    """[rad]"""
    uphill: float = 0.0
    """Direction uphill from the body's x axis, to the left [rad]."""


class Pull(Numbered, frozen=True, kw_only=True, tag="pull"):
    """Drag a part; answered by a block `pulled`. Nothing is kept."""

    what: Literal["foot", "body", "joint"]
    name: str = ""
    """Leg or joint; empty for the body."""
    to: tuple[float, ...]
    """Foot: place in the ground frame, x, y, z [m]. Body: x, y, z [m], roll, pitch, yaw [rad]
    against where it stands. Joint: its position [rad]."""
    phase: float = -1.0
    """Share of the shown cycle that the pose is taken from; below 0 the robot stands."""


class Look(Numbered, frozen=True, kw_only=True, tag="look"):
    """Show the case and phase that a finding speaks of."""

    finding: str
    """Its `id`."""


# Walking in the physics world (owned by the walk view) --------------------------------------


class WalkStart(Numbered, frozen=True, kw_only=True, tag="walk_start"):
    """Walk the edited robot in the physics world."""

    ground: str = "flat"
    seed: int = 1
    gait: str = "tripod"
    speed: float | None = None
    """Forward [m/s]; what the sheet asks of that gait when left out."""
    mode: Literal["felt", "blind"] = "felt"
    distance: float = 3.0
    """[m]"""
    height: float = 0.25
    """Of the ground's steps over leg length."""
    pace: float = 1.0
    """World seconds per second; 0: as fast as it goes."""


class WalkWatch(Numbered, frozen=True, kw_only=True, tag="walk_watch"):
    """See the walk: all that was so far, and what comes; without, only its state is told."""

    on: bool


class WalkPace(Numbered, frozen=True, kw_only=True, tag="walk_pace"):
    """Change the pace of a walk that is walked."""

    pace: float
    """World seconds per second; 0: as fast as it goes."""


class WalkPause(Numbered, frozen=True, kw_only=True, tag="walk_pause"):
    """Hold the world still, or let it go on."""

    paused: bool


class WalkEnd(Numbered, frozen=True, kw_only=True, tag="walk_end"):
    """End the walk or close the recording."""


class WalkOpen(Numbered, frozen=True, kw_only=True, tag="walk_open"):
    """Open a recording."""

    name: str
    """One of `Recordings.list`."""


class WalkAt(Numbered, frozen=True, kw_only=True, tag="walk_at"):
    """Show the walk at a time; answered by a `moment` to this page alone."""

    time: float
    """[s]"""


class Film(Numbered, frozen=True, kw_only=True, tag="film"):
    """Draw a film strip of the walk."""


# Driving (owned by the drive view) ----------------------------------------------------------


class RobotStart(Numbered, frozen=True, kw_only=True, tag="robot_start"):
    """Start the built-in simulated robot; it is then driven at `/robot`."""

    ground: str = "flat"
    seed: int = 1


class RobotConnect(Numbered, frozen=True, kw_only=True, tag="robot_connect"):
    """Relay `/robot` to a robot's program."""

    address: str
    """``wss://host:port``; ``ws://`` on this machine only."""


class RobotRecord(Numbered, frozen=True, kw_only=True, tag="robot_record"):
    """Switch the recorder of the simulated robot; that of a robot's program always writes."""

    on: bool


class RobotEnd(Numbered, frozen=True, kw_only=True, tag="robot_end"):
    """End the simulated robot or the relay."""


AnyAsked = (
    Hello | Edit | Undo | Redo | PutBack | Keep | Compare | Show | Ask | Pull | Look
    | WalkStart | WalkWatch | WalkPace | WalkPause | WalkEnd | WalkOpen | WalkAt | Film
    | RobotStart | RobotConnect | RobotRecord | RobotEnd
)  # fmt: skip
"""All that a page may send."""
