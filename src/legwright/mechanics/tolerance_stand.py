"""How a robot stands on feet that are not where they are meant: height, tilt, rocking."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.errors import RequestError
from legwright.mechanics._built import stood
from legwright.mechanics.tolerance_stack import INSIDE
from legwright.robot.tree import Floats, read_only

TINY = 1e-12
"""Twice the area of a triangle of feet below which it bears nothing [m²]."""


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
    built = feet[None] + offsets
    slopes, level = _settled(built, com)
    known = np.isfinite(level)
    if not known.all():
        if known.mean() < 0.5:
            raise RequestError("centre of mass", com.tolist(), "over the feet's support polygon")
        built, slopes, level = built[known], slopes[known], level[known]
    tilts = np.arctan(np.hypot(slopes[:, 0], slopes[:, 1]))
    middle = float(feet[:, 2].mean())
    ground = slopes @ com + level  # height of the ground plane under the centre of mass
    heights = -(ground - middle)
    over = built[:, :, 2] - (
        np.einsum("ni,nli->nl", slopes, built[:, :, :2]) + level[:, None]
    )  # fmt: skip
    return StandError(
        tilt=float(np.quantile(tilts, INSIDE)),
        height=float(np.quantile(np.abs(heights), INSIDE)),
        gap=float(np.quantile(over.max(axis=1), INSIDE)),
        worst_tilt=_bound(feet, com, reach),
        tilts=read_only(tilts),
        heights=read_only(heights),
    )


def _settled(built: Floats, com: Floats) -> tuple[Floats, Floats]:
    """The plane z = s·(x, y) + c that each robot stands on: slopes (N, 2), level (N,)."""
    slopes, level = np.empty((len(built), 2)), np.empty(len(built))
    place = np.array(com, dtype=np.float64)
    stood(np.array(built, order="C"), place, TINY, slopes, level)
    return slopes, level


def _bound(feet: Floats, com: Floats, reach: Floats) -> float:
    """Largest tilt over all signs of the feet's height errors, each at its limit."""
    count = len(feet)
    if count > 12:
        return float("nan")
    signs = np.array(np.meshgrid(*[[-1.0, 1.0]] * count, indexing="ij")).reshape(count, -1).T
    built = np.broadcast_to(feet, (len(signs), count, 3)).copy()
    built[:, :, 2] += signs * reach
    slopes, level = _settled(built, com)
    tilts = np.arctan(np.hypot(slopes[:, 0], slopes[:, 1]))
    return float(np.nanmax(np.where(np.isfinite(level), tilts, np.nan)))
