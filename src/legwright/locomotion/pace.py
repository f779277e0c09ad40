"""How a twist is walked: cycle time, swing time, and the speed that is possible."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from legwright.locomotion.abilities import Abilities
from legwright.locomotion.gait import Gait
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

QUICKEST, CALMEST = 0.32, 0.8
"""Shortest and longest swing [s]: common practice, no published source."""
STROKE = 1.7
"""Stroke of a foot at most, in radii of its room."""
PEAK = 1.875
"""Peak over mean speed of a minimum-jerk move (Flash & Hogan 1985, from memory)."""
USED = 0.87
"""Share of the joint speed limits that a planned swing uses."""


class Pace(NamedTuple):
    """A twist with its timing."""

    twist: Floats
    """(3,): possible forward, left [m/s], turn [rad/s]."""
    cycle: float
    """[s]"""
    swing: float
    """Time of the quick part of a swing [s]."""
    limit: str
    """What slowed it: empty, ``stride`` or ``joint speed``."""
    share: float
    """Possible over asked, at most 1."""


def foot_speed(robot: Robot, able: Abilities) -> float:
    """Speed that every foot can take over the ground plane at its neutral place [m/s].

    Args:
        robot: The robot.
        able: Its abilities.

    Returns:
        The least over legs and directions.
    """
    angles = np.arange(8) * (np.pi / 4)
    ways = np.stack([np.cos(angles), np.sin(angles), np.zeros(8)])
    least = np.inf
    for name, leg in robot.legs.items():
        span = robot.columns[name]
        rates = np.linalg.pinv(leg.jacobian(able.fixed.rest[span]), rcond=1e-3) @ ways
        least = min(least, float(1.0 / (np.abs(rates).T / able.fixed.speed[span]).max()))
    return least


def pace_of(
    able: Abilities, gait: Gait, twist: Floats, *, fastest: float, fall: float, cycle: float | None
) -> Pace:
    """Fit a twist to a gait.

    Args:
        able: The robot's abilities.
        gait: The gait.
        twist: Asked: forward, left [m/s], turn [rad/s], (3,).
        fastest: Speed that a foot can take [m/s], see `foot_speed`.
        fall: Time that a foot takes to feel its way down [s]; 0 for feet that do not feel.
        cycle: Cycle time that the sheet asks for [s], or None.

    Returns:
        The pace; slower than asked where stride or joint speed do not allow it.
    """
    x, y = able.fixed.neutral[:, 0], able.fixed.neutral[:, 1]
    speeds = np.hypot(twist[0] - twist[2] * y, twist[1] + twist[2] * x)
    flight = 1.0 - gait.duty
    need = float((speeds / (STROKE * able.fixed.room)).max()) * gait.duty  # cycles a second
    # Where stride and joint speed bind alike, neither a shorter nor a longer cycle is faster.
    stroke = STROKE * float(able.fixed.room.min())
    shortest = (max(QUICKEST, PEAK * stroke / (gait.duty * USED * fastest)) + fall) / flight
    share, limit = 1.0, ""
    if need * shortest > 1.0:
        share, limit = 1.0 / (need * shortest), "stride"
    longest = (CALMEST + fall) / flight
    period = min(longest, max(shortest, 1.0 / max(need, 1e-9)))
    if cycle is not None:
        period = min(period, max(cycle, shortest))
    swing = period * flight - fall
    quick = USED * fastest * swing / (PEAK * period)
    if float(speeds.max()) * share > quick:
        share, limit = quick / float(speeds.max()), "joint speed"
    return Pace(np.asarray(twist * share), period, swing, limit, share)
