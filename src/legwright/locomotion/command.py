"""What the operator asks of the controller."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from math import isfinite

from legwright.errors import RequestError, did_you_mean
from legwright.locomotion.gait import Gait
from legwright.locomotion.path import Path
from legwright.locomotion.walk import Pose


class Kind(Enum):
    """What is to be done."""

    STAND = "stand"
    """Get up if need be, then stand; feet in the air are set down, no other is moved."""
    WALK = "walk"
    """Walk with the twist and gait; a twist of zero stops as `STAND` does."""
    SIT = "sit"
    """Stop and lower the body onto the ground."""
    HOLD = "hold"
    """Freeze where it is, as soon as the feet in the air have landed."""
    LIFT = "lift"
    """Lift one leg and keep it in the air, `height` above where it stood."""
    PLACE = "place"
    """Set one leg down at `target`, or straight down without one."""
    PROBE = "probe"
    """Lower one leg at `target` until its foot feels `force`; it stays there as a stance foot."""

    FOLLOW = "follow"
    """Lead some legs along `path` while the others stand; they go back the same way."""


SINGLE = (Kind.LIFT, Kind.PLACE, Kind.PROBE)
"""Commands for one leg."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """One order; it holds until the next one comes."""

    kind: Kind = Kind.STAND
    velocity: tuple[float, float] = (0.0, 0.0)
    """Of the body over the ground: forward, to the left [m/s]."""
    turn: float = 0.0
    """To the left [rad/s]."""
    gait: Gait | None = None
    """The robot's default gait when None."""
    height: float | None = None
    """Body frame origin over the ground; the robot's stance height when None. For `LIFT`, of
    the foot over the ground [m]."""
    pose: Pose = field(default=Pose())
    """Of the body over its place."""
    leg: str = ""
    """The leg that lifts, is placed, or probes."""
    target: tuple[float, float] | None = None
    """Where that leg's foot goes, in the body's heading frame over the ground: forward, to the
    left of the body's place [m]; straight down when None."""
    force: float | None = None
    """Upward push of the ground on the foot at which probing ends [N]; the sheet's `probe_push`,
    or 5 N without one, when None."""

    path: Path | None = None
    """What `FOLLOW` follows."""

    def __post_init__(self) -> None:
        """Refuse what makes no sense for any robot."""
        if not isinstance(self.kind, Kind):
            known = [kind.value for kind in Kind]
            if self.kind not in known:
                raise RequestError(
                    "kind", self.kind, f"a Kind. {did_you_mean(str(self.kind), known)}"
                )
            object.__setattr__(self, "kind", Kind(self.kind))
        if len(self.velocity) != 2:
            raise RequestError("velocity", self.velocity, "two numbers: forward, to the left [m/s]")
        numbers = [
            ("velocity[0]", self.velocity[0]),
            ("velocity[1]", self.velocity[1]),
            ("turn", self.turn),
        ]
        numbers += [("force", self.force)] if self.force is not None else []
        numbers += [("height", self.height)] if self.height is not None else []
        if self.target is not None:
            if len(self.target) != 2:
                raise RequestError("target", self.target, "two numbers: forward, to the left [m]")
            numbers += [("target[0]", self.target[0]), ("target[1]", self.target[1])]
        for name, value in numbers:
            if not isfinite(value):
                raise RequestError(name, value, "a finite number")
        if self.height is not None and self.height <= 0.0:
            raise RequestError("height", self.height, "more than 0")
        if self.force is not None and self.force <= 0.0:
            raise RequestError("force", self.force, "more than 0")
        if self.kind in SINGLE and not self.leg:
            raise RequestError("leg", self.leg, f"the name of a leg for kind {self.kind.value}")
