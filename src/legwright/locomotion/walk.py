"""What is asked of the legs: a gait, a twist, a pose, a ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import pi

import numpy as np

from legwright.errors import RequestError, require_number
from legwright.locomotion.gait import Gait
from legwright.locomotion.stance import Footing

STEEPEST = 0.5 * pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """Where the body is held against its place over the footing."""

    x: float = 0.0
    """Forward [m]."""
    y: float = 0.0
    """To the left [m]."""
    z: float = 0.0
    """Up [m]."""
    roll: float = 0.0
    """About x [rad]."""
    pitch: float = 0.0
    """About y, nose down positive (REP-103) [rad]."""
    yaw: float = 0.0
    """About z [rad]; fixed-axis order roll, pitch, yaw."""

    def __post_init__(self) -> None:
        """Refuse numbers that are not finite."""
        for name in ("x", "y", "z", "roll", "pitch", "yaw"):
            require_number(f"pose.{name}", getattr(self, name))


@dataclass(frozen=True, slots=True)
class Walk:
    """A gait walked with a constant twist on an even ground."""

    gait: Gait
    velocity: tuple[float, float] = field(default=(0.0, 0.0), kw_only=True)
    """Of the body over the ground: forward, to the left [m/s]."""
    turn: float = field(default=0.0, kw_only=True)
    """To the left [rad/s]."""
    cycle: float | None = field(default=None, kw_only=True)
    """Cycle time [s]; the sheet's or a default for the robot's size when None."""
    lift: float | None = field(default=None, kw_only=True)
    """Height of a foot at the top of its swing over the ground [m]; as `cycle` when None."""
    pose: Pose = field(default=Pose(), kw_only=True)
    slope: float = field(default=0.0, kw_only=True)
    """Angle of the ground against the horizontal [rad]."""
    uphill: float = field(default=0.0, kw_only=True)
    """Direction uphill from the body's x axis, to the left [rad]; 0 climbs forward."""
    footing: Footing | None = field(default=None, kw_only=True)
    """Where the robot stands; found when None."""

    def __post_init__(self) -> None:
        """Refuse what makes no sense."""
        if not isinstance(self.gait, Gait):
            raise RequestError("gait", self.gait, "a Gait, such as lw.gait('tripod', legs=6)")
        if not isinstance(self.velocity, Sequence | np.ndarray) or len(self.velocity) != 2:
            raise RequestError("velocity", self.velocity, "two numbers: forward, to the left [m/s]")
        for name, value in (
            ("velocity[0]", self.velocity[0]),
            ("velocity[1]", self.velocity[1]),
            ("turn", self.turn),
            ("uphill", self.uphill),
        ):
            require_number(name, value)
        object.__setattr__(self, "velocity", (float(self.velocity[0]), float(self.velocity[1])))
        for name in ("cycle", "lift"):
            value = getattr(self, name)
            if value is None:
                continue
            require_number(name, value)
            if value <= 0.0:
                raise RequestError(name, value, "finite and more than 0, or None")
        if self.pose is None:
            object.__setattr__(self, "pose", Pose())
        if not isinstance(self.pose, Pose):
            raise RequestError("pose", self.pose, "a Pose, such as lw.Pose(z=0.01), or None")
        require_number("slope", self.slope)
        if abs(self.slope) >= STEEPEST:
            raise RequestError("slope", self.slope, "between -π/2 and π/2 [rad]")
