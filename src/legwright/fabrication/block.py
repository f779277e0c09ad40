"""Boxes at any angle, and whether one can slide out past another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.robot.tree import Floats, read_only

PARALLEL = 1e-9
"""A speed along an axis below this counts as none."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Block:
    """A box in space."""

    centre: Floats
    """(3,) [m]"""
    axes: Floats
    """(3, 3): unit edges as rows."""
    half: Floats
    """(3,): half edges [m]."""

    @property
    def corners(self) -> Floats:
        """Corners, (8, 3) [m]."""
        signs = np.array([[x, y, z] for z in (-1, 1) for y in (-1, 1) for x in (-1, 1)])
        return np.asarray(self.centre + (signs * self.half) @ self.axes, dtype=np.float64)

    def moved(self, pose: Floats) -> Block:
        """The block carried by a pose, (4, 4)."""
        turn = pose[:3, :3]
        return Block(
            centre=read_only(turn @ self.centre + pose[:3, 3]),
            axes=read_only(self.axes @ turn.T),
            half=self.half,
        )


def block(size: ArrayLike, at: ArrayLike) -> Block:
    """A box along the axes, edges `size` (3,), centre `at` (3,) [m]."""
    return Block(
        centre=read_only(at), axes=read_only(np.eye(3)), half=read_only(np.asarray(size) / 2.0)
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Blocks:
    """N blocks as arrays."""

    centre: Floats
    """(N, 3) [m]"""
    axes: Floats
    """(N, 3, 3): unit edges as rows."""
    half: Floats
    """(N, 3) [m]"""

    @classmethod
    def of(cls, blocks: Sequence[Block]) -> Blocks:
        """Several blocks as one value."""
        return cls(
            centre=read_only(np.array([b.centre for b in blocks]).reshape(-1, 3)),
            axes=read_only(np.array([b.axes for b in blocks]).reshape(-1, 3, 3)),
            half=read_only(np.array([b.half for b in blocks]).reshape(-1, 3)),
        )


def overlap(one: Blocks, other: Blocks) -> Floats:
    """How deep blocks are in each other: the shortest way that parts them.

    Args:
        one: N blocks.
        other: M blocks.

    Returns:
        (N, M) [m]; 0 or less where they are apart.

    Source: separating axes of two boxes, Gottschalk, Lin, Manocha, SIGGRAPH (1996).
    """
    _, apart, reach = _shadows(one, other)
    return np.asarray(-(np.abs(apart) - reach).max(axis=-1), dtype=np.float64)


def blocks_way(
    moving: Blocks, fixed: Blocks, directions: ArrayLike, *, touch: float
) -> NDArray[np.bool_]:
    """Whether blocks that slide along a line, as far as need be, run into others.

    For convex bodies that move without turning, the times at which two overlap are those at
    which their shadows overlap on every separating axis: one interval each.

    Args:
        moving: N blocks that slide.
        fixed: M blocks that stay.
        directions: Unit vectors, (K, 3).
        touch: Depth by which blocks that only touch may seem to overlap [m].

    Returns:
        (K, N, M): True where they meet on the way.

    Source: separating axes under translation, Eberly, Dynamic Collision Detection using
    Oriented Bounding Boxes (1999), sec. 4 [from memory].
    """
    axes, apart, reach = _shadows(moving, fixed)
    reach = reach - touch
    speed = np.einsum("nmad,kd->knma", axes, np.asarray(directions, dtype=np.float64))
    still = np.abs(speed) < PARALLEL
    kept = np.where(still, 1.0, speed)
    first = (apart - np.sign(kept) * reach) / kept
    last = (apart + np.sign(kept) * reach) / kept
    beside = np.abs(apart) >= reach
    first = np.where(still, np.where(beside, np.inf, -np.inf), first)
    last = np.where(still, np.inf, last)
    enters = np.maximum(first.max(axis=-1), 0.0)
    thin = (reach <= 0.0).any(axis=-1)
    return np.asarray((enters < last.min(axis=-1)) & ~thin)


def _shadows(one: Blocks, other: Blocks) -> tuple[Floats, Floats, Floats]:
    """Axes (N, M, 15, 3), and on each the distance of centres and the sum of half shadows.

    Cross products of parallel edges repeat a face normal, so nothing is left out.
    """
    n, m = len(one.centre), len(other.centre)
    own = np.broadcast_to(one.axes[:, None], (n, m, 3, 3))
    their = np.broadcast_to(other.axes[None], (n, m, 3, 3))
    crossed = np.cross(own[:, :, :, None], their[:, :, None]).reshape(n, m, 9, 3)
    length = np.linalg.norm(crossed, axis=-1, keepdims=True)
    unit = crossed / np.maximum(length, 1e-300)
    crossed = np.where(length > 1e-6, unit, np.repeat(own, 3, axis=2))
    axes = np.concatenate([own, their, crossed], axis=2)
    apart = np.einsum("nmad,nmd->nma", axes, other.centre[None] - one.centre[:, None])
    reach = np.einsum("nmae,nme->nma", np.abs(axes @ own.swapaxes(-1, -2)),
                      np.broadcast_to(one.half[:, None], (n, m, 3)))  # fmt: skip
    reach += np.einsum("nmae,nme->nma", np.abs(axes @ their.swapaxes(-1, -2)),
                       np.broadcast_to(other.half[None], (n, m, 3)))  # fmt: skip
    return axes, apart, reach
