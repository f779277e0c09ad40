"""All legs at once: feet from joint positions and joint positions from feet."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError
from legwright.mechanics import _knee
from legwright.mechanics.kinematics import TOLERANCE, ClosedForm
from legwright.robot.leg import Reach
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

_NOWHERE = np.empty((0, 1, 3))


@lru_cache(maxsize=4)
def _packed(robot: Robot) -> Floats | None:
    """Closed-form measures of all legs, (L, ...), or None where a leg has none."""
    packs = [
        leg.kinematics.pack for leg in robot.legs.values() if isinstance(leg.kinematics, ClosedForm)
    ]
    return np.array(packs) if len(packs) == len(robot.legs) and packs else None


def reach_feet(robot: Robot, feet: ArrayLike, near: ArrayLike | None = None) -> Reach:
    """Joint positions that put all feet on their targets, or as near as they get.

    Args:
        robot: The robot.
        feet: Targets in the body frame, (..., L, 3) [m].
        near: Joint positions to stay close to, (J,) or (..., J) [rad]; the middle of the joint
            ranges when None.

    Returns:
        Reach with q (..., J), error (..., L) and ok (..., L).

    Raises:
        RequestError: if a shape does not fit or a value is not finite.
    """
    points = np.ascontiguousarray(feet, dtype=np.float64)
    legs, width = len(robot.legs), len(robot.joint_names)
    if points.shape[-2:] != (legs, 3):
        raise RequestError(
            "feet", f"an array of shape {points.shape}", f"of shape (..., {legs}, 3)"
        )
    if not np.isfinite(points).all():
        raise RequestError("feet", "not finite", "finite numbers only (no NaN, no inf)")
    lead = points.shape[:-2]
    start = None if near is None else _start(near, lead, width)
    packs = _packed(robot)
    if packs is None:
        return _leg_by_leg(robot, points, start)
    flat = points.reshape(-1, legs, 3)
    flat = flat if flat.flags.writeable else flat.copy()
    q, error = np.empty(flat.shape), np.empty(flat.shape[:2])
    near_by = _NOWHERE if start is None else start.reshape(-1, legs, 3)
    _knee.reach(packs, flat, near_by, q, error, np.inf)
    error = error.reshape(*lead, legs)
    return Reach(q.reshape(*lead, width), error, error <= TOLERANCE)


def _start(near: ArrayLike, lead: tuple[int, ...], width: int) -> Floats:
    """``near`` as one row for all targets, (width,), or one for each, (*lead, width)."""
    start = np.ascontiguousarray(near, dtype=np.float64)
    if not np.isfinite(start).all():
        raise RequestError("near", "not finite", "finite numbers only (no NaN, no inf)")
    if start.shape in ((width,), (*lead, width)):
        return start if start.flags.writeable else start.copy()  # one type to the kernels
    try:
        return np.ascontiguousarray(np.broadcast_to(start, (*lead, width)))
    except ValueError:
        raise RequestError(
            "near", f"an array of shape {start.shape}", f"of shape ({width},) or {(*lead, width)}"
        ) from None


def _leg_by_leg(robot: Robot, points: Floats, start: Floats | None) -> Reach:
    answers = []
    for index, leg in enumerate(robot.legs.values()):
        near = None if start is None else start[..., robot.columns[leg.name]]
        answers.append(leg.reach(points[..., index, :], near))
    return Reach(
        np.concatenate([answer.q for answer in answers], axis=-1),
        np.stack([answer.error for answer in answers], axis=-1),
        np.stack([answer.ok for answer in answers], axis=-1),
    )


def feet_of(robot: Robot, q: ArrayLike) -> Floats:
    """Foot points of all legs.

    Args:
        robot: The robot.
        q: Joint positions, (..., J) [rad].

    Returns:
        Foot points in the body frame, (..., L, 3) [m].

    Raises:
        RequestError: if the shape does not fit or a value is not finite.
    """
    joints = _joints(robot, q)
    return np.stack(
        [leg.foot(joints[..., robot.columns[leg.name]]) for leg in robot.legs.values()], axis=-2
    )


def jacobians(robot: Robot, q: ArrayLike) -> tuple[Floats, ...]:
    """Foot Jacobians of all legs.

    Args:
        robot: The robot.
        q: Joint positions, (..., J) [rad].

    Returns:
        For each leg, d(foot)/d(its joints) in the body frame, (..., 3, n) [m/rad].

    Raises:
        RequestError: if the shape does not fit or a value is not finite.
    """
    joints = _joints(robot, q)
    return tuple(leg.jacobian(joints[..., robot.columns[leg.name]]) for leg in robot.legs.values())


def _joints(robot: Robot, q: ArrayLike) -> Floats:
    joints = np.asarray(q, dtype=np.float64)
    width = len(robot.joint_names)
    if joints.ndim == 0 or joints.shape[-1] != width:
        raise RequestError("q", f"an array of shape {joints.shape}", f"of shape (..., {width})")
    return joints
