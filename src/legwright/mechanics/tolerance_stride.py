"""Tolerances through a walk: in which pose built robots are least exact.

All poses are weighed at once: feet by their linear spread, stands by a few hundred robots. Many
robots are then drawn at the widest poses alone.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

from legwright.mechanics.tolerance_stack import INSIDE
from legwright.robot.tree import Floats

THIN = 1e-9
"""Twice the area of a triangle of feet below which it bears nothing [m²]."""
EDGE = -1e-9
"""Least share of the weight on each foot of a triangle that bears."""


def radius(arms: Floats, sigmas: Floats) -> Floats:
    """Length within which `INSIDE` of a sum of deviations lies, nearly.

    The squared length of normal deviations is a sum of chi-squares weighted by the covariance's
    eigenvalues. One chi-square of the same mean and variance stands for it: an estimate that
    ranks poses, within a tenth for the demo family's legs.

    Args:
        arms: (..., D, P): what each deviation moves along D directions.
        sigmas: (P,): their standard deviations.

    Returns:
        (...,), unit of arms times sigmas.

    Source: Satterthwaite, Biometrics Bulletin 2 (1946), eq. 17, for a sum of mean squares.
    """
    spread = arms * sigmas
    return _radius(spread @ spread.swapaxes(-1, -2))


def _radius(covariance: Floats) -> Floats:
    mean = np.trace(covariance, axis1=-2, axis2=-1)
    squares = (covariance**2).sum(axis=(-2, -1))
    ratio = np.divide(squares, mean, out=np.zeros_like(mean), where=mean > 0.0)
    freedoms = np.divide(mean, ratio, out=np.ones_like(mean), where=ratio > 0.0)
    return np.asarray(np.sqrt(2.0 * ratio * gammaincinv(0.5 * freedoms, INSIDE)))


def settled(
    feet: Floats, contact: NDArray[np.bool_], com: Floats, heights: Floats
) -> tuple[Floats, Floats]:
    """How robots stand in each of many poses, heights of their feet being off.

    As `tolerance_stand`: a rigid body stands on the lowest three feet whose triangle holds its
    centre of mass. Offsets along x and y are left out: they move a triangle's corners by a
    hundredth.

    Args:
        feet: (N, L, 3): foot points as meant, body frame [m].
        contact: (N, L): which of them stand.
        com: (N, 2): centre of mass in plan [m].
        heights: (N, R, L): what the feet of R robots are off along z [m].

    Returns:
        Slope of the ground under the body (N, R), and the body's height over what is meant
        (N, R) [m]; nan where no triangle of standing feet holds the centre of mass.
    """
    x, y = feet[..., 0].T, feet[..., 1].T
    slope = np.full(heights.shape[:2], np.nan)
    rise = np.full(heights.shape[:2], np.nan)
    count = feet.shape[1]
    for i, j, k in combinations(range(count), 3):
        ux, uy, vx, vy = x[j] - x[i], y[j] - y[i], x[k] - x[i], y[k] - y[i]
        twice = ux * vy - uy * vx
        good = (contact[:, i] & contact[:, j] & contact[:, k]) & (np.abs(twice) > THIN)
        safe = np.where(good, twice, 1.0)
        wx, wy = com[:, 0] - x[i], com[:, 1] - y[i]
        first, second = (wx * vy - wy * vx) / safe, (ux * wy - uy * wx) / safe
        good &= (first >= EDGE) & (second >= EDGE) & (first + second <= 1.0 - EDGE)
        at = np.flatnonzero(good)
        if not len(at):
            continue
        z = heights[at]
        uz, vz = z[:, :, j] - z[:, :, i], z[:, :, k] - z[:, :, i]
        sx = (uz * vy[at, None] - vz * uy[at, None]) / safe[at, None]
        sy = (vz * ux[at, None] - uz * vx[at, None]) / safe[at, None]
        under = np.ones(sx.shape, dtype=np.bool_)
        for other in range(count):
            if other in (i, j, k):
                continue
            dx, dy = (x[other] - x[i])[at, None], (y[other] - y[i])[at, None]
            over = z[:, :, other] - z[:, :, i] - sx * dx - sy * dy
            under &= (over >= -1e-12) | ~contact[at, other, None]
        middle = z[:, :, i] + sx * wx[at, None] + sy * wy[at, None]
        slope[at] = np.where(under, np.hypot(sx, sy), slope[at])
        rise[at] = np.where(under, -middle, rise[at])
    return slope, rise
