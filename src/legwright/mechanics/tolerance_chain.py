"""Where the foot goes when a leg's measures deviate: derivatives, and the exact place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from legwright.errors import RequestError
from legwright.mechanics._built import built_feet
from legwright.mechanics.tolerance_sources import Deviation, Kind
from legwright.robot.chain import Chain
from legwright.robot.tree import Floats, read_only

_WAYS = {Kind.SHIFT: 0, Kind.SLIP: 1, Kind.TURN: 2}


def sensitivities(chain: Chain, q: Floats, deviations: Sequence[Deviation]) -> Floats:
    """Derivative of the foot point by each deviation.

    A deviation that turns what joint i carries about e moves the foot by e × (p − o); one that
    shifts, by its direction (Lynch & Park, Modern Robotics, 2017, sec. 5.1: the columns of a
    space Jacobian, with each deviation as one more joint).

    Args:
        chain: The leg.
        q: Drive positions, (..., n) [rad].
        deviations: P of them.

    Returns:
        (..., 3, P) in the body frame [m/m or m/rad].
    """
    positions = np.asarray(q, dtype=np.float64)
    poses = positions.reshape(-1, positions.shape[-1])
    before, after, foot = _frames(chain, poses)
    columns = np.empty((len(deviations), 3, len(poses)))
    for column, one in enumerate(deviations):
        if one.kind is Kind.SHIFT:
            columns[column] = (before[one.joint][:, :3, :3] @ one.direction).T
            continue
        seat = after[one.joint]
        way = (seat[:, :3, :3] @ one.direction).T
        columns[column] = way if one.kind is Kind.SLIP else _crossed(way, foot - seat[:, :3, 3].T)
    return columns.transpose(2, 1, 0).reshape(*positions.shape[:-1], 3, len(deviations))


def _frames(chain: Chain, q: Floats) -> tuple[list[Floats], list[Floats], Floats]:
    """Frame before each joint (and before the foot), each joint's own at zero, the foot.

    Of N poses (N, n): frames (N, 4, 4), feet (3, N).
    """
    angles = q @ chain.coupling.T + chain.offset
    pose = np.broadcast_to(np.eye(4), (len(q), 4, 4))
    before, after = [], []
    for joint, placement in enumerate(chain.placements):
        before.append(pose)
        pose = pose @ placement
        after.append(pose)
        pose = pose @ _motion(chain, joint, angles[:, joint])
    before.append(pose)
    return before, after, (pose[:, :3, :3] @ chain.foot + pose[:, :3, 3]).T


def _motion(chain: Chain, joint: int, positions: Floats) -> Floats:
    """Poses of a joint's motion, (N,) [rad or m] -> (N, 4, 4)."""
    axis = chain.axes[joint] / np.linalg.norm(chain.axes[joint])
    pose = np.broadcast_to(np.eye(4), (len(positions), 4, 4)).copy()
    if chain.prismatic[joint]:
        pose[:, :3, 3] = positions[:, None] * axis
    else:
        pose[:, :3, :3] = _turns(positions[:, None] * axis)
    return pose


def _turns(vectors: Floats) -> Floats:
    """Rotation matrices of rotation vectors, (N, 3) [rad] -> (N, 3, 3) (Rodrigues)."""
    angle = np.linalg.norm(vectors, axis=1)
    cross = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -z, y, -x
    cross[:, 1, 0], cross[:, 2, 0], cross[:, 2, 1] = z, -y, x
    first = np.sinc(angle / np.pi)
    second = 0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2
    return np.asarray(
        np.eye(3) + first[:, None, None] * cross + second[:, None, None] * (cross @ cross)
    )


def _crossed(w: Floats, p: Floats) -> Floats:
    """Vector products, (3, N) each."""
    return np.stack(
        [w[1] * p[2] - w[2] * p[1], w[2] * p[0] - w[0] * p[2], w[0] * p[1] - w[1] * p[0]]
    )


def deviated_feet(
    chain: Chain, q: Floats, deviations: Sequence[Deviation], values: Floats
) -> Floats:
    """Foot points of legs built with deviations, without any linearisation.

    Args:
        chain: The leg as drawn.
        q: Drive positions, (n,) [rad].
        deviations: P of them.
        values: (N, P): what each built leg deviates by [m or rad].

    Returns:
        (N, 3) in the body frame [m].

    Raises:
        RequestError: if shapes do not fit.
    """
    if values.ndim != 2 or values.shape[1] != len(deviations):
        raise RequestError("values", f"an array of shape {values.shape}", "of shape (N, P)")
    none, all_of = np.zeros(len(deviations)), np.ones(len(deviations))
    return feet_drawn(chain, q, deviations, read_only(values.T), none, all_of)


def feet_drawn(
    chain: Chain,
    q: Floats,
    deviations: Sequence[Deviation],
    draws: Floats,
    low: Floats,
    span: Floats,
) -> Floats:
    """As `deviated_feet`, of built legs that deviate by ``low + span * draw``.

    Args:
        chain: The leg as drawn.
        q: Drive positions, (n,) [rad].
        deviations: P of them.
        draws: (P, N), not writable.
        low: (P,) [m or rad]
        span: (P,) [m or rad]

    Returns:
        (N, 3) in the body frame [m].
    """
    angles = chain.coupling @ np.asarray(q, dtype=np.float64) + chain.offset
    motions = [_motion(chain, at, angles[at : at + 1])[0] for at in range(len(angles))]
    out = np.empty((draws.shape[1], 3))
    built_feet(
        draws,
        low,
        span,
        np.array([_WAYS[one.kind] for one in deviations], dtype=np.int64),
        np.array([one.joint for one in deviations], dtype=np.int64),
        np.array([one.direction for one in deviations]).reshape(-1, 3),
        *_apart(chain.placements),
        *_apart(motions),
        np.array(chain.foot, dtype=np.float64),
        out,
    )
    return out


def _apart(poses: Sequence[Floats] | Floats) -> tuple[Floats, Floats]:
    """Orientations (M, 9) and places (M, 3) of poses (M, 4, 4)."""
    stacked = np.array(poses, dtype=np.float64).reshape(-1, 4, 4)
    return np.ascontiguousarray(stacked[:, :3, :3]).reshape(-1, 9), stacked[:, :3, 3].copy()
