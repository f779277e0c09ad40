"""How a robot stands on feet that are not where they are meant: height, tilt, rocking."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.mechanics._built import stood
from legwright.mechanics.tolerance_stack import INSIDE, quantile
from legwright.robot.tree import Floats, read_only

TINY = 1e-12
"""Twice the area of a triangle of feet below which it bears nothing [m²]."""
SLACK = 1e-9
"""By how much a foot may lie under the ground [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class StandError:
    """How built robots stand on flat, hard ground."""

    tilt: float
    """Angle of the body within which `INSIDE` of the robots stay [rad]."""
    height: float
    """Change of the body's height, likewise, above or below what is meant [m]."""
    gap: float
    """Largest gap under a foot that does not reach the ground, likewise [m]."""
    worst_tilt: float
    """Bound of the tilt when every foot is at its largest error the worst way [rad]."""
    tilts: Floats
    """(N,): tilt of each sampled robot [rad]."""
    heights: Floats
    """(N,): change of height [m]."""


def stand_error(feet: Floats, offsets: Floats, com: Floats, reach: Floats) -> StandError:
    """Let robots built by chance settle on the ground.

    A rigid body on hard ground stands on three feet: those of the lowest facet of the feet's
    convex hull that lies under the centre of mass. Soft feet let more of them bear and tilt it
    less.

    Args:
        feet: (L, 3) foot points as meant, level, body frame [m].
        offsets: (N, L, 3) what each foot of each robot is off [m].
        com: (2,) centre of mass in plan [m].
        reach: (L,) largest offset of each foot along z [m].

    Returns:
        The error.

    Raises:
        RequestError: with fewer than three feet, or where the centre of mass stands over none.
    """
    if len(feet) < 3:
        raise RequestError("feet", len(feet), "at least three")
    slope, ground, over = _settled(feet, offsets, com)
    known = np.isfinite(ground)
    if not known.all():
        if known.mean() < 0.5:
            raise RequestError("centre of mass", com.tolist(), "over the feet's support polygon")
        slope, ground, over = slope[known], ground[known], over[known]
    tilts = np.arctan(slope)
    heights = float(feet[:, 2].mean()) - ground
    return StandError(
        tilt=float(quantile(tilts, INSIDE)),
        height=float(quantile(np.abs(heights), INSIDE)),
        gap=float(quantile(over, INSIDE)),
        worst_tilt=_bound(feet, com, reach),
        tilts=read_only(tilts),
        heights=read_only(heights),
    )


def _settled(feet: Floats, offsets: Floats, com: Floats) -> tuple[Floats, Floats, Floats]:
    """Of the ground under each robot: slope, height under the centre of mass, gap, (N,) each."""
    count = len(feet)
    found = np.empty((3, 1, len(offsets)))
    stood(
        np.array(feet)[None],
        np.ones((1, count), dtype=np.bool_),
        np.array(com, dtype=np.float64)[None],
        np.array(offsets, order="C", copy=None)[None],
        triples_of(count),
        TINY,
        SLACK,
        True,
        *found,
    )
    slope, ground, over = found[:, 0]
    return slope, ground, over


@cache
def triples_of(count: int, step: int = 1) -> NDArray[np.int64]:
    """All threes of some feet, (T, 3), not writable.

    Args:
        count: Feet.
        step: 1 in order, -1 backwards.
    """
    every = list(combinations(range(count), 3))[::step]
    found = np.array(every, dtype=np.int64).reshape(-1, 3)
    found.setflags(write=False)
    return found


def _bound(feet: Floats, com: Floats, reach: Floats) -> float:
    """Largest tilt over all signs of the feet's height errors, each at its limit."""
    count = len(feet)
    if count > 12:
        return float("nan")
    signs = np.array(np.meshgrid(*[[-1.0, 1.0]] * count, indexing="ij")).reshape(count, -1).T
    offsets = np.zeros((len(signs), count, 3))
    offsets[:, :, 2] = signs * reach
    slope, _, _ = _settled(feet, offsets, com)
    return float(np.arctan(np.nanmax(slope)))
