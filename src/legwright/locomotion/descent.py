"""How fast a foot goes down while it feels its way, and from how high."""

from __future__ import annotations

import numpy as np

from legwright.locomotion.abilities import Abilities
from legwright.robot.robot import Robot

TURN = 0.55
"""Speed of the joint that feels, clear of where it would stick and slip [rad/s]."""
SLOWEST, FASTEST = 0.04, 0.055
"""Limits [m/s]: slower, wren's feet tell less, not more (at 0.025 m/s they miss 12 %)."""
APPROACH, LEAST_APPROACH = 0.05, 0.007
"""Height over the expected ground at which feeling begins, in leg lengths, and at least [m]."""


def fall_speed(robot: Robot, able: Abilities) -> float:
    """Speed at which a foot feels its way down.

    A touch-down weighs in proportion to it, but joints that turn too slowly stick: so it is
    `TURN` at the longest vertical lever, the median over legs.

    Args:
        robot: The robot.
        able: Its abilities.

    Returns:
        [m/s]
    """
    arms = [
        np.abs(leg.jacobian(able.fixed.rest[robot.columns[name]])[2]).max()
        for name, leg in robot.legs.items()
    ]
    return float(np.clip(TURN * np.median(arms), SLOWEST, FASTEST))


def approach(able: Abilities) -> float:
    """Height over the expected ground at which a foot begins to feel its way [m]."""
    return max(APPROACH * able.leg_length, LEAST_APPROACH)
