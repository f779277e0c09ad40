"""Sitting down: how low the body can go over its feet, and when it is down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from legwright.locomotion._state import State
from legwright.locomotion.abilities import Abilities
from legwright.locomotion.single_steps import local
from legwright.mechanics.reach import reach_feet
from legwright.robot.robot import Robot

SUNK, RESTED, LOWERING = 1e-3, 2.5, 6.0
"""A body that sank by less in so long has sat down as low as it comes; and so it has, low as it
may be, after lowering for the last of these [m, s, s]."""
THERE = 1e-3
"""A body this near to the height that was asked has come down [m]."""
ON_TRUNK = 5e-3
"""A trunk lower than this lies on the ground [m]."""


def lowest_height(robot: Robot, able: Abilities, state: State, lost: Iterable[int]) -> float:
    """How low the body may go over the feet as they stand.

    Args:
        robot: The robot.
        able: Its abilities.
        state: Read.
        lost: Legs that need not reach.

    Returns:
        Height of the body frame over the ground, its lean left as it is [m].
    """
    feet = local(state, state.foot) - np.array([*state.sway, 0.0])
    now = state.posture[2] - state.relief[0]
    heights = np.linspace(now, min(able.belly, now), 33)
    points = feet - heights[:, None, None] * np.array([0.0, 0.0, 1.0])
    start = np.broadcast_to(state.q, (len(heights), len(state.q)))
    reached = reach_feet(robot, points, start)
    reached.error[:, list(lost)] = 0.0
    ok = np.append((reached.error < 1e-5).all(axis=1), False)
    return float(heights[max(int(np.argmin(ok)) - 1, 0)])


@dataclass(slots=True, eq=False)
class Sinking:
    """One sitting down, watched."""

    time: float = 0.0
    """Since the body began to sink [s]."""
    still: float = 0.0
    """Since it last sank by `SUNK` [s]."""
    level: float = np.inf
    """Height at that moment [m]."""

    def over(self, height: float, gap: float, dt: float) -> bool:
        """Whether the body is down, for this reason or that.

        Args:
            height: Of the body [m].
            gap: From the height that was asked [m].
            dt: Since the last call [s].
        """
        if height < self.level - SUNK:
            self.level, self.still = height, 0.0
        self.still, self.time = self.still + dt, self.time + dt
        return abs(gap) < THERE or self.still > RESTED or self.time > LOWERING

    def told(self, trunk: float) -> str:
        """What ended it, in a sentence.

        Args:
            trunk: Height of the trunk over the ground [m].
        """
        if trunk < ON_TRUNK:
            return "The robot sits, its trunk on the ground."
        why = "the legs fold no farther"
        if self.time > LOWERING:
            why = f"it was still sinking after {LOWERING:.0f} s"
        elif self.still > RESTED:
            why = "it sinks no farther"
        return f"The robot sits, its trunk {trunk * 1e3:.0f} mm high: {why}."
