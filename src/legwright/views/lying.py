"""A posture in which the legs lie spread out, so that a plan shows every joint apart."""

from __future__ import annotations

from itertools import product

import numpy as np

from legwright.robot.leg import Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

_TRIED = 7
"""Positions tried for each joint."""


def flat_posture(robot: Robot, *, feet_in: bool = False) -> Floats:
    """Leg joint positions, (J,), that spread each leg's joints apart in plan.

    The first joint of each leg stays at the middle of its travel; the others are tried over
    their travel, and the widest plan from hip to last joint wins.

    Args:
        robot: The robot.
        feet_in: Whether the feet shall lie under the last joints rather than far out.
    """
    parts = [_widest(leg, feet_in=feet_in) for leg in robot.legs.values()]
    return np.concatenate(parts) if parts else np.zeros(0)


def _widest(leg: Leg, *, feet_in: bool) -> Floats:
    lower = np.where(np.isfinite(leg.chain.lower), leg.chain.lower, -np.pi)
    upper = np.where(np.isfinite(leg.chain.upper), leg.chain.upper, np.pi)
    middle = (lower + upper) / 2.0
    tried = np.linspace(0.0, 1.0, _TRIED)
    moving = range(1, min(leg.n, 4))
    grid = []
    for shares in product(tried, repeat=len(moving)):
        q = middle.copy()
        for column, share in zip(moving, shares, strict=True):
            q[column] = lower[column] + share * (upper[column] - lower[column])
        grid.append(q)
    return max(grid, key=lambda q: _spread(leg, q, feet_in=feet_in))


def _spread(leg: Leg, q: Floats, *, feet_in: bool) -> float:
    """Least plan distance between neighbouring joints, and a little of the whole."""
    spots = joint_spots(leg, q)[:, :2]
    last = float(np.linalg.norm(spots[-1] - spots[-2]))
    steps = np.linalg.norm(np.diff(spots[:-1] if feet_in else spots, axis=0), axis=1)
    whole = float(np.linalg.norm(spots[-1] - spots[0]))
    return float(steps.min(initial=1.0)) + (-0.1 * last if feet_in else 0.2 * whole)


def joint_spots(leg: Leg, q: Floats) -> Floats:
    """Origins of a leg's moving joints, then its foot, in the body frame, (m + 1, 3) [m]."""
    from legwright.robot.placement import shifted, turned

    chain = leg.chain
    moved = chain.coupling @ q + chain.offset
    pose, spots = np.eye(4), []
    for index, value in enumerate(moved):
        pose = pose @ chain.placements[index]
        spots.append(pose[:3, 3])
        move = shifted if chain.prismatic[index] else turned
        pose = pose @ move(chain.axes[index], np.asarray(value))
    spots.append(pose[:3, :3] @ chain.foot + pose[:3, 3])
    return np.array(spots)
