"""From joint positions alone: does it stand, and on which feet; start from there."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose
from legwright.locomotion._limb import foot_of
from legwright.locomotion._state import State
from legwright.locomotion.abilities import Abilities
from legwright.mechanics.balance import static_margin
from legwright.mechanics.loads import standing
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

LEVEL = 0.012
"""Feet within this height of the lowest ones count as standing [m]."""
OFF_GROUND = 0.008
"""A body this much above its belly's height stands on its legs [m]."""


class Found(NamedTuple):
    """How a robot stands."""

    height: float
    """Of the body frame over the ground [m]."""
    roll: float
    pitch: float
    """Of the body [rad]."""
    stance: NDArray[np.bool_]
    """(L,)"""


def stands(robot: Robot, able: Abilities, q: Floats, up: Floats | None) -> Found | None:
    """How a robot stands in a pose, or None where it lies or would fall.

    Args:
        robot: The robot.
        able: Its abilities.
        q: Joint positions, (J,) [rad].
        up: Direction against gravity, body frame, (3,); the body is taken as level when None.
    """
    feet = np.array([leg.foot(q[robot.columns[name]]) for name, leg in robot.legs.items()])
    way = np.array([0.0, 0.0, 1.0]) if up is None else np.asarray(up) / np.linalg.norm(up)
    if way[2] < 0.7:
        return None
    depth = -(feet @ way)
    order = np.sort(depth)[::-1]
    stance = depth > order[2] - LEVEL
    if order[0] - order[2] > LEVEL or order[2] < able.belly + OFF_GROUND:
        return None
    com = standing(robot, q).com[0]
    if float(static_margin(feet, com, contact=stance, gravity=-way)) <= 0.0:
        return None
    pitch = float(np.arctan2(-way[0], way[2]))
    roll = float(np.arctan2(way[1], np.hypot(way[0], way[2])))
    return Found(float(depth[stance].mean()), roll, pitch, stance)


def plant(state: State, able: Abilities, q: Floats, found: Found | float) -> None:
    """Start the state in a pose: the feet where they are, the body's place as origin.

    Args:
        state: Written.
        able: Abilities.
        q: Joint positions, (J,) [rad].
        found: How it stands, or the body height with all feet at the ground [m].
    """
    legs = len(state.mode)
    if not isinstance(found, Found):
        found = Found(float(found), 0.0, 0.0, np.ones(legs, dtype=np.bool_))
    state.whole[:] = 0.0
    state.q[:] = q
    state.posture[:] = 0.0, 0.0, found.height, found.roll, found.pitch, 0.0
    state.clock[at.SIGMA] = 1.0
    R, b = np.empty((3, 3)), np.empty(3)
    body_pose(state, R, b)
    foot = np.empty(3)
    for leg in range(legs):
        foot_of(able.fixed.packed, leg, state.q, foot)
        state.foot[leg] = R @ foot + b
        state.mode[leg] = at.STAND if found.stance[leg] else at.HELD
    state.aim[:] = state.foot
    state.since[:] = 1.0
