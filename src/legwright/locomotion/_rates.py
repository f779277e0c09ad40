"""Kernel: joint velocities and accelerations that move a foot along its path."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.mechanics._serial import carry
from legwright.mechanics._vectors import cross, dot, plus, row, times, turned


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


@within
def _direct(screws):  # type: ignore[no-untyped-def]
    """Whether the leg has three joints that turn, each with a drive of its own."""
    if screws.coupling.shape[0] != 3:
        return False
    for i in range(3):
        if screws.slides[i]:
            return False
        for k in range(3):
            if screws.coupling[i, k] != (1.0 if i == k else 0.0):
                return False
    return True


@within
def _rate_direct(screws, q, velocity, acceleration, qd, qdd):  # type: ignore[no-untyped-def]
    """`_rate` of a direct leg: all is seen from the first joint, so that it turns nothing."""
    a, b, c = row(screws.axis, 0), row(screws.axis, 1), row(screws.axis, 2)
    two, three = row(screws.origin, 1), row(screws.origin, 2)
    s, k = math.sin(screws.offset[2] + q[2]), math.cos(screws.offset[2] + q[2])
    p = turned(plus((screws.foot[0], screws.foot[1], screws.foot[2]), times(three, -1.0)), c, s, k)
    w = cross(c, p)
    s, k = math.sin(screws.offset[1] + q[1]), math.cos(screws.offset[1] + q[1])
    p = turned(plus(plus(p, three), times(two, -1.0)), b, s, k)
    v, w, c = cross(b, p), turned(w, b, s, k), turned(c, b, s, k)
    u = cross(a, plus(plus(p, two), times(row(screws.origin, 0), -1.0)))
    vw, wu, uv = cross(v, w), cross(w, u), cross(u, v)
    det = dot(u, vw)
    scale = 1.0 / det if det != 0.0 else 0.0
    s, k = math.sin(screws.offset[0] + q[0]), math.cos(screws.offset[0] + q[0])
    way = turned((velocity[0], velocity[1], velocity[2]), a, -s, k)
    x, y, z = scale * dot(vw, way), scale * dot(wu, way), scale * dot(uv, way)
    # J' q': sum over pairs of joints of (axis_inner × J_outer) q'_inner q'_outer.
    third = times(w, z)
    second = plus(times(v, y), times(third, 2.0))
    first = plus(plus(times(u, x), times(v, 2.0 * y)), times(third, 2.0))
    bend = plus(times(cross(a, first), x), times(cross(b, second), y))
    bend = plus(bend, times(cross(c, third), z))
    way = turned((acceleration[0], acceleration[1], acceleration[2]), a, -s, k)
    way = plus(way, times(bend, -1.0))
    qd[0], qd[1], qd[2] = x, y, z
    qdd[0], qdd[1], qdd[2] = scale * dot(vw, way), scale * dot(wu, way), scale * dot(uv, way)
    size = math.sqrt(dot(u, u) * dot(v, v) * dot(w, w))
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
    direct, stop, least = _direct(screws), start + 3, np.inf
    for t in range(q.shape[0]):
        own, path = q[t, start:stop], (velocity[t, leg], acceleration[t, leg])
        out = qd[t, start:stop], qdd[t, start:stop]
        if direct:
            det = _rate_direct(screws, own, path[0], path[1], out[0], out[1])
        else:
            det = _rate(screws, own, path[0], path[1], out[0], out[1], work)
        least = min(least, det)
    return least
