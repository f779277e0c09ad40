"""Moving all joints together from one pose to another, before the feet carry."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from legwright.locomotion._state import Fixed
from legwright.locomotion.abilities import Abilities
from legwright.mechanics.reach import reach_feet
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

CLEAR = 0.3
"""Share of the swing's lift that tucked feet hang over the ground under the belly."""
EASY = 0.4
"""Share of the joint limits that a glide uses."""


@dataclass(slots=True, eq=False)
class Glide:
    """A minimum-jerk move between two poses, all joints in step.

    Source: minimum-jerk profile 10 s³ - 15 s⁴ + 6 s⁵, Flash & Hogan 1985 (from memory); its
    speed and acceleration peak at 15/8 and 10/√3 of the mean.
    """

    start: Floats
    end: Floats
    duration: float
    time: float = field(default=0.0)

    @classmethod
    def between(cls, start: Floats, end: Floats, fixed: Fixed) -> Glide:
        """The quickest easy glide from one pose (J,) to another within the joint limits."""
        span = np.abs(end - start)
        by_speed = 1.875 * span / (EASY * fixed.speed)
        by_surge = np.sqrt(5.774 * span / (EASY * fixed.surge))
        duration = float(max(by_speed.max(), by_surge.max(), 1e-3))
        return cls(np.array(start), np.array(end), duration)

    @property
    def over(self) -> bool:
        """Whether the end is reached."""
        return self.time >= self.duration

    def after(self, dt: float) -> tuple[Floats, Floats]:
        """Go on by ``dt``: joint positions and velocities, (J,) each."""
        self.time = min(self.time + dt, self.duration)
        s = self.time / self.duration
        share = s * s * s * (10.0 + s * (-15.0 + 6.0 * s))
        rate = 30.0 * s * s * (1.0 - s) ** 2 / self.duration
        span = self.end - self.start
        return self.start + share * span, rate * span


def ready_pose(robot: Robot, able: Abilities) -> tuple[Floats, float]:
    """Feet at their neutral places, just over the ground, the trunk on it.

    Returns:
        Joint positions (J,) and the body height that they mean [m]: more than the belly's
        where the legs cannot fold that far.
    """
    height = max(able.lowest, able.belly)
    feet = able.fixed.neutral - np.array([0.0, 0.0, height])
    return reach_feet(robot, feet, able.fixed.rest).q, height


def tucked_pose(robot: Robot, able: Abilities, q: Floats) -> Floats:
    """Feet over their neutral places, clear of the ground: (J,)."""
    height = max(able.lowest, able.belly)
    lift = able.lift * (1.0 + CLEAR)
    for share in (1.0, 0.6, 0.3, 0.0):
        feet = able.fixed.neutral - np.array([0.0, 0.0, height - share * lift])
        answer = reach_feet(robot, feet, able.fixed.rest)
        if answer.ok.all():
            break
    return answer.q
