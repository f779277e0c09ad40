"""Where the foot goes when a leg's measures deviate: derivatives, and the exact place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.mechanics._built import built_feet, foot_arms
from legwright.mechanics.tolerance_sources import Deviation, Kind
from legwright.robot.chain import Chain
from legwright.robot.tree import Floats, read_only

_WAYS = {Kind.SHIFT: 0, Kind.SLIP: 1, Kind.TURN: 2}


class Levers(NamedTuple):
    """A leg and P deviations of it as bare numbers, in the order in which kernels take them."""

    way: NDArray[np.int64]
    """(P,): 0 shifts a joint or the foot, 1 shifts and 2 turns what a joint carries."""
    joint: NDArray[np.int64]
    """(P,)"""
    direction: Floats
    """(P, 3)"""
    seat_turns: Floats
    """(M, 9): orientations of the joint frames in the frames before them."""
    seats: Floats
    """(M, 3): their places [m]."""
    axes: Floats
    """(M, 3): unit vectors."""
    slides: NDArray[np.bool_]
    """(M,)"""
    foot: Floats
    """(3,) [m]"""


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
    arms, _ = arms_of(levers_of(chain, deviations), chain, poses)
    return arms.reshape(*positions.shape[:-1], 3, len(deviations))


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
    draws = read_only(np.ascontiguousarray(values.T))
    levers = levers_of(chain, deviations)
    return feet_drawn(levers, chain, q, draws, none, all_of, meant=np.zeros(3))[0]


def levers_of(chain: Chain, deviations: Sequence[Deviation]) -> Levers:
    """A leg and its deviations as bare numbers.

    Args:
        chain: The leg as drawn.
        deviations: P of them.
    """
    axes = np.array(chain.axes, dtype=np.float64)
    placements = np.asarray(chain.placements, dtype=np.float64)
    return Levers(
        way=np.array([_WAYS[one.kind] for one in deviations], dtype=np.int64),
        joint=np.array([one.joint for one in deviations], dtype=np.int64),
        direction=np.array([one.direction for one in deviations]).reshape(-1, 3),
        seat_turns=placements[:, :3, :3].reshape(-1, 9),  # a copy: rows have gaps between them
        seats=placements[:, :3, 3].copy(),
        axes=axes / np.sqrt((axes * axes).sum(axis=1))[:, None],
        slides=np.array(chain.prismatic, dtype=np.bool_),
        foot=np.array(chain.foot, dtype=np.float64),
    )


def arms_of(levers: Levers, chain: Chain, poses: Floats) -> tuple[Floats, Floats]:
    """As `sensitivities`, and the foot points.

    Args:
        levers: Of the leg and its deviations.
        chain: The leg.
        poses: Drive positions, (N, n) [rad].

    Returns:
        Derivatives (N, 3, P) and foot points (N, 3), body frame.
    """
    arms, feet = np.empty((len(poses), 3, len(levers.way))), np.empty((len(poses), 3))
    foot_arms(*levers, _angles(chain, poses), arms, feet)
    return arms, feet


def feet_drawn(
    levers: Levers, chain: Chain, q: Floats, draws: Floats, low: Floats, span: Floats, *,
    meant: Floats,
) -> tuple[Floats, Floats]:  # fmt: skip
    """As `deviated_feet`, of built legs that deviate by ``low + span * draw``.

    Args:
        levers: Of the leg and its deviations.
        chain: The leg as drawn.
        q: Drive positions, (n,) [rad].
        draws: (P, N), not writable.
        low: (P,) [m or rad]
        span: (P,) [m or rad]
        meant: (3,) where the foot is meant to be, body frame [m].

    Returns:
        Feet less that, (N, 3) in the body frame, and their distances from it, (N,) [m].
    """
    out, far = np.empty((draws.shape[1], 3)), np.empty(draws.shape[1])
    poses = np.asarray(q, dtype=np.float64)[None]
    built_feet(*levers, _angles(chain, poses), draws, low, span, meant, out, far)
    return out, far


def _angles(chain: Chain, poses: Floats) -> Floats:
    """Positions of all joints, (N, M), from those of the drives, (N, n)."""
    return np.ascontiguousarray(poses @ chain.coupling.T + chain.offset)
