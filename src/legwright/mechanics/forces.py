"""Foot forces: which forces inside the friction cones carry the robot with least effort."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.errors import RequestError
from legwright.mechanics._cones import distribution
from legwright.robot.tree import Floats

BALANCED = 1e-6
"""Share of the wrench that may stay unbalanced where forces count as feasible."""


class Distribution(NamedTuple):
    """Foot forces and whether they balance the wrench; leading shape ``...``."""

    forces: Floats
    """(..., L, 3): force of the ground on each foot [N]; zero without contact."""
    feasible: NDArray[np.bool_]
    """(...,): True where the forces balance the wrench."""
    residual: Floats
    """(...,): the size of what is left unbalanced over that of the wrench; moments are
    taken about the centre of the stance feet and divided by their mean distance from it."""


def _copied(values: ArrayLike, shape: tuple[int, ...], kind: type) -> NDArray[Any]:
    """A writable C-ordered copy spread over ``shape``: what the compiled kernel expects."""
    return np.array(np.broadcast_to(np.asarray(values), shape), dtype=kind, order="C")


def distribute(
    feet: ArrayLike,
    normals: ArrayLike,
    wrench: ArrayLike,
    *,
    friction: ArrayLike,
    contact: ArrayLike | None = None,
) -> Distribution:
    """Foot forces that sum to a wrench inside exact circular friction cones, with least effort.

    The effort is the sum of the squared foot forces, so that with idle cones the answer is the
    pseudo-inverse's. Where no forces inside the cones sum to the wrench the answer says so and
    holds the forces that come nearest to it.

    Args:
        feet: Foot points, (..., L, 3) [m].
        normals: Unit normals of the ground, towards the robot, (..., L, 3) or (3,).
        wrench: Force, and moment about the origin, that the forces shall sum to, (..., 6)
            [N, N·m]; axes and origin as for ``feet``.
        friction: Coefficient of friction, one or one per foot (L,), >= 0.
        contact: Feet that stand, (..., L); all when None.

    Returns:
        Distribution(forces, feasible, residual); see there.

    Raises:
        RequestError: Where a shape does not fit or a friction coefficient is negative.

    Source: cone |f - (f·n)n| <= μ f·n after Bretl & Lall, IEEE Trans. Robotics 24(4):794-807,
        2008; the dual method is our own derivation (see `_cones`).
    """
    points = np.asarray(feet, dtype=np.float64)
    needed = np.asarray(wrench, dtype=np.float64)
    if points.ndim < 2 or points.shape[-1] != 3:
        raise RequestError("feet", points.shape, "an array of shape (..., L, 3)")
    if needed.shape != (*points.shape[:-2], 6):
        raise RequestError("wrench", needed.shape, f"of shape {(*points.shape[:-2], 6)}")
    lead, legs = points.shape[:-2], points.shape[-2]
    mu = _copied(friction, (legs,), np.float64)
    if not (np.isfinite(mu).all() and (mu >= 0.0).all()):
        raise RequestError("friction", friction, "finite and >= 0")
    mask = True if contact is None else contact
    forces, residual = distribution(
        _copied(points, points.shape, np.float64).reshape(-1, legs, 3),
        _copied(normals, points.shape, np.float64).reshape(-1, legs, 3),
        _copied(needed, needed.shape, np.float64).reshape(-1, 6),
        mu,
        _copied(mask, points.shape[:-1], np.bool_).reshape(-1, legs),
    )
    residual = residual.reshape(lead)
    return Distribution(forces.reshape(points.shape), residual <= BALANCED, residual)
