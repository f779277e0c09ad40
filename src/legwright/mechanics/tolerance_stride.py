"""Tolerances through a walk: in which pose built robots are least exact.

All poses are weighed at once: feet by their linear spread, stands by a few hundred robots. Many
robots are then drawn at the widest poses alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

from legwright.mechanics._built import stood
from legwright.mechanics.tolerance_stack import INSIDE
from legwright.mechanics.tolerance_stand import triples_of
from legwright.robot.tree import Floats

THIN = 1e-9
"""Twice the area of a triangle of feet below which it bears nothing [m²]."""
SLACK = 1e-12
"""By how much a foot may lie under the ground [m]."""


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
    return radius_of(covariance(arms, sigmas))


def covariance(arms: Floats, sigmas: Floats) -> Floats:
    """Covariance of a sum of deviations, (..., D, D); arguments as for `radius`."""
    spread = arms * sigmas
    return np.asarray(spread @ spread.swapaxes(-1, -2))


def radius_of(covariance: Floats) -> Floats:
    """As `radius`, from the sum's covariance, (..., D, D)."""
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
    flat = np.array(feet)
    flat[..., 2] = 0.0
    steep, middle, gap = np.empty((3, *heights.shape[:2]))
    stood(
        flat,
        np.array(contact, dtype=np.bool_),
        np.array(com),
        np.ascontiguousarray(heights)[..., None],
        triples_of(feet.shape[1], -1),
        THIN,
        SLACK,
        False,
        steep,
        middle,
        gap,
    )
    return steep, -middle
