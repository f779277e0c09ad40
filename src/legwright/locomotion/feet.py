"""Foot paths over one cycle, in the heading frame: the body's place over the ground."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from legwright.locomotion import _feet
from legwright.robot.tree import Floats


class Path(NamedTuple):
    """Position, velocity and acceleration; each (..., 3)."""

    position: Floats
    velocity: Floats
    acceleration: Floats


def cycle_path(
    middle: Floats, twist: Floats, local: Floats, *, duty: float, cycle: float, lift: float
) -> Path:
    """All feet through a cycle.

    Args:
        middle: Where the feet are at mid-stance, (L, 3) [m].
        twist: Forward, to the left, turning, (3,).
        local: Fraction of the cycle since each foot's touch-down, (T, L) in [0, 1).
        duty: Duty factor.
        cycle: Cycle time [s].
        lift: Height of the swing's top [m].

    Returns:
        Path with (T, L, 3) each.
    """
    path = Path(*(np.empty((*local.shape, 3)) for _ in range(3)))
    ways = (float(twist[0]), float(twist[1]), float(twist[2]))
    timing = (float(duty), float(cycle), float(lift))
    _feet.cycle_path(
        np.array(middle, dtype=np.float64), ways, local, timing, np.eye(3), np.zeros(3), *path
    )
    return path
