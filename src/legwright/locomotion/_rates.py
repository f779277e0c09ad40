"""Kernel: joint velocities and accelerations that move a foot along its path."""

from __future__ import annotations

import numpy as np

from legwright.kernel import kernel, within
from legwright.mechanics._serial import carry


@within
def _rate(screws, q, velocity, acceleration, qd, qdd, work):  # type: ignore[no-untyped-def]
    """One sample of `rates`; returns its |det J| over the product of the columns' lengths."""
    p, axes, moving, J, inverse = work
    m = screws.coupling.shape[0]
    carry(screws, q, p, moving, axes)
    for r in range(3):
        for k in range(3):
            J[r, k] = 0.0
            for j in range(m):
                J[r, k] += moving[j, r] * screws.coupling[j, k]
    size = 1.0
    for k in range(3):
        size *= np.sqrt(J[0, k] ** 2 + J[1, k] ** 2 + J[2, k] ** 2)
    inverse[0, 0] = J[1, 1] * J[2, 2] - J[1, 2] * J[2, 1]
    inverse[0, 1] = J[0, 2] * J[2, 1] - J[0, 1] * J[2, 2]
    inverse[0, 2] = J[0, 1] * J[1, 2] - J[0, 2] * J[1, 1]
    inverse[1, 0] = J[1, 2] * J[2, 0] - J[1, 0] * J[2, 2]
    inverse[1, 1] = J[0, 0] * J[2, 2] - J[0, 2] * J[2, 0]
    inverse[1, 2] = J[0, 2] * J[1, 0] - J[0, 0] * J[1, 2]
    inverse[2, 0] = J[1, 0] * J[2, 1] - J[1, 1] * J[2, 0]
    inverse[2, 1] = J[0, 1] * J[2, 0] - J[0, 0] * J[2, 1]
    inverse[2, 2] = J[0, 0] * J[1, 1] - J[0, 1] * J[1, 0]
    det = J[0, 0] * inverse[0, 0] + J[0, 1] * inverse[1, 0] + J[0, 2] * inverse[2, 0]
    scale = 1.0 / det if det != 0.0 else 0.0
    for k in range(3):
        qd[k] = scale * (
            inverse[k, 0] * velocity[0] + inverse[k, 1] * velocity[1] + inverse[k, 2] * velocity[2]
        )
    # J' q': sum over pairs of moving joints of (z_inner × J_outer) q'_inner q'_outer.
    bx = by = bz = 0.0
    for inner in range(m):
        if screws.slides[inner]:
            continue
        wi = 0.0
        for k in range(3):
            wi += screws.coupling[inner, k] * qd[k]
        for outer in range(inner, m):
            wo = 0.0
            for k in range(3):
                wo += screws.coupling[outer, k] * qd[k]
            w = wi * wo if inner == outer else 2.0 * wi * wo
            bx += w * (axes[inner, 1] * moving[outer, 2] - axes[inner, 2] * moving[outer, 1])
            by += w * (axes[inner, 2] * moving[outer, 0] - axes[inner, 0] * moving[outer, 2])
            bz += w * (axes[inner, 0] * moving[outer, 1] - axes[inner, 1] * moving[outer, 0])
    ax, ay, az = acceleration[0] - bx, acceleration[1] - by, acceleration[2] - bz
    for k in range(3):
        qdd[k] = scale * (inverse[k, 0] * ax + inverse[k, 1] * ay + inverse[k, 2] * az)
    return abs(det) / max(size, 1e-300)


@kernel
def rates(screws, start, leg, q, velocity, acceleration, qd, qdd):  # type: ignore[no-untyped-def]
    """Solve J q' = v and J q'' = a - J' q' for the three drives of one leg; T samples.

    The leg has the columns ``start`` to ``start + 2`` of q, qd, qdd (T, J), and the place ``leg``
    in velocity and acceleration (T, L, 3); fills qd and qdd. Returns the smallest |det J| over
    the product of its columns' lengths: near 0 the leg is singular and the rates mean nothing.
    """
    m = screws.coupling.shape[0]
    work = (np.empty(3), np.empty((m, 3)), np.empty((m, 3)), np.empty((3, 3)), np.empty((3, 3)))
    stop, least = start + 3, np.inf
    for t in range(q.shape[0]):
        det = _rate(
            screws, q[t, start:stop], velocity[t, leg], acceleration[t, leg],
            qd[t, start:stop], qdd[t, start:stop], work,
        )  # fmt: skip
        least = min(least, det)
    return least
