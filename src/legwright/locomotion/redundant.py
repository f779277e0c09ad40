"""Legs with more than three drives: of all poses for a foot point, the one nearest to rest."""

from __future__ import annotations

import numpy as np

from legwright.robot.leg import Leg
from legwright.robot.tree import Floats

SHARES = (0.0, 0.3, 0.6, 1.0)
"""Rest poses tried, as shares of the way from the start to the middle of the ranges."""

ROUNDS = 60
CLOSE = 1e-10
"""Foot error at which a path counts as followed [m]."""


def calm_poses(leg: Leg, path: Floats, start: Floats) -> Floats | None:
    """Poses along a path that deviate least from one rest pose.

    Being a function of the foot point alone, they close with the path and are as smooth as it.
    The rest pose is the start, or a pose between it and the middle of the joint ranges, the
    first of them that keeps the whole path inside the limits.

    Args:
        leg: A leg with more than three drives.
        path: Foot points, (T, 3) [m].
        start: Pose from which the path is sought, (n,) [rad].

    Returns:
        (T, n) [rad], or None where each of these leaves the joint limits or misses the path.
    """
    bounded = np.isfinite(leg.lower) & np.isfinite(leg.upper)
    middle = np.array(start)
    middle[bounded] = 0.5 * (leg.lower[bounded] + leg.upper[bounded])
    for share in SHARES:
        found = _nearest_to_rest(leg, path, start, start + share * (middle - start))
        if found is not None:
            return found
    return None


def _nearest_to_rest(leg: Leg, path: Floats, start: Floats, rest: Floats) -> Floats | None:
    """Least-deviation poses, (T, n), or None.

    Source: least-norm Gauss-Newton steps, q <- rest + J+ (p - f(q) + J (q - rest)); textbook
        (Siciliano et al., Robotics: Modelling, Planning and Control, sec. 3.5).
    """
    q = np.tile(start, (len(path), 1))
    for _ in range(ROUNDS):
        J = leg.jacobian(q)
        gap = path - leg.foot(q) + np.einsum("tij,tj->ti", J, q - rest)
        gram = J @ np.swapaxes(J, 1, 2)
        if np.linalg.det(gram).min() < 1e-18:
            return None
        new = rest + np.einsum("tij,ti->tj", J, np.linalg.solve(gram, gap[..., None])[..., 0])
        moved = float(np.abs(new - q).max())
        q = new
        if not moved < np.pi:
            return None
        if moved < 1e-12:
            break
    missed = float(np.linalg.norm(leg.foot(q) - path, axis=1).max())
    inside = bool(np.all(q >= leg.lower) and np.all(q <= leg.upper))
    return q if inside and missed < CLOSE else None
