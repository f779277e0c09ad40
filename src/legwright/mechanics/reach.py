"""All legs of a robot at once: where the feet are, and how to put them somewhere."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError
from legwright.mechanics._three_joints import solve_many
from legwright.mechanics.kinematics import ThreeJoints, middle_of
from legwright.robot.leg import Reach
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """The closed forms of all legs, and the middle of the joint ranges."""

    rows: Floats
    middle: Floats
    solvers: tuple[ThreeJoints, ...]


@lru_cache(maxsize=16)
def _rows_of(robot: Robot) -> _Rows | None:
    """None where some leg has no closed form."""
    solvers = tuple(leg.kinematics for leg in robot.legs.values())
    three = tuple(solver for solver in solvers if isinstance(solver, ThreeJoints))
    if len(three) < len(solvers):
        return None
    middle = np.stack([middle_of(leg.chain) for leg in robot.legs.values()])
    return _Rows(np.stack([solver.row for solver in three]), middle, three)


def reach_feet(robot: Robot, feet: ArrayLike, near: ArrayLike | None = None) -> Reach:
    """Joint positions that put every foot on its target, or as near as it gets.

    Args:
        robot: The robot.
        feet: Targets in the body frame, (..., L, 3) [m].
        near: Joint positions to stay close to, (..., J) or (J,) [rad]; the middle of the joint
            ranges when None.

    Returns:
        Reach with q (..., J), error (..., L), ok (..., L).

    Raises:
        RequestError: for wrong shapes or numbers that are not finite.
    """
    targets = np.asarray(feet, dtype=np.float64)
    count, width = len(robot.legs), len(robot.joint_names)
    if targets.ndim < 2 or targets.shape[-2:] != (count, 3):
        raise RequestError("feet", targets.shape, f"of shape (..., {count}, 3)")
    lead = targets.shape[:-2]
    packed = _rows_of(robot)
    if packed is None:
        return _leg_by_leg(robot, targets, near)
    flat = np.ascontiguousarray(targets).reshape(-1, 3)
    if near is None:
        start = packed.middle
    else:
        start = np.asarray(near, dtype=np.float64)
        if start.shape[-1:] != (width,):
            raise RequestError("near", start.shape, f"of shape (..., {width})")
    # One pose for all targets is repeated; broadcasting a full set costs a copy at most.
    if start.size == width:
        start = start.reshape(-1, 3)
        if len(flat) > count:
            start = np.tile(start, (len(flat) // count, 1))
    else:
        start = np.ascontiguousarray(np.broadcast_to(start, (*lead, width))).reshape(-1, 3)
    q = np.empty((len(flat), 3))
    error, ok = np.empty(len(flat)), np.empty(len(flat), dtype=np.bool_)
    solve_many(packed.rows, flat, np.ascontiguousarray(start), q, error, ok)
    if not ok.all():
        _mend(packed, flat, start, q, error, ok)
    return Reach(q.reshape(*lead, width), error.reshape(*lead, count), ok.reshape(*lead, count))


def _mend(
    packed: _Rows,
    targets: Floats,
    near: Floats,
    q: Floats,
    error: Floats,
    ok: np.ndarray[tuple[int], np.dtype[np.bool_]],
) -> None:
    if not np.isfinite(targets).all():
        raise RequestError("feet", "nan or inf", "finite numbers")
    count = len(packed.solvers)
    for index, solver in enumerate(packed.solvers):
        pick = slice(index, None, count)
        found, distance, reached = q[pick].copy(), error[pick].copy(), ok[pick].copy()
        solver.mend(targets[pick], near[pick], found, distance, reached)
        q[pick], error[pick], ok[pick] = found, distance, reached


def _leg_by_leg(robot: Robot, targets: Floats, near: ArrayLike | None) -> Reach:
    start = None if near is None else np.asarray(near, dtype=np.float64)
    parts = []
    for index, leg in enumerate(robot.legs.values()):
        pick = None if start is None else start[..., robot.columns[leg.name]]
        parts.append(leg.reach(targets[..., index, :], pick))
    return Reach(
        np.concatenate([part.q for part in parts], axis=-1),
        np.stack([part.error for part in parts], axis=-1),
        np.stack([part.ok for part in parts], axis=-1),
    )


def feet_of(robot: Robot, q: ArrayLike) -> Floats:
    """Foot points of all legs: (..., J) [rad] -> (..., L, 3) [m], body frame."""
    full = np.asarray(q, dtype=np.float64)
    return np.stack(
        [leg.foot(full[..., robot.columns[leg.name]]) for leg in robot.legs.values()], axis=-2
    )
