"""Kernels: foot point, Jacobian and second derivatives of a serial chain.

All work from the foot back to the body: each joint turns what lies behind it about an axis
that does not move with the joints behind, so nothing but points and directions is turned.
"""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within


@within
def _turn(v, a, s, c):  # type: ignore[no-untyped-def]
    """Turn vector ``v`` about the unit axis ``a`` in place (Rodrigues' formula)."""
    k = (a[0] * v[0] + a[1] * v[1] + a[2] * v[2]) * (1.0 - c)
    x = v[0] * c + s * (a[1] * v[2] - a[2] * v[1]) + k * a[0]
    y = v[1] * c + s * (a[2] * v[0] - a[0] * v[2]) + k * a[1]
    z = v[2] * c + s * (a[0] * v[1] - a[1] * v[0]) + k * a[2]
    v[0], v[1], v[2] = x, y, z


@within
def _cross(a, b, out):  # type: ignore[no-untyped-def]
    x = a[1] * b[2] - a[2] * b[1]
    y = a[2] * b[0] - a[0] * b[2]
    z = a[0] * b[1] - a[1] * b[0]
    out[0], out[1], out[2] = x, y, z


@within
def foot_at(screws, q, p):  # type: ignore[no-untyped-def]
    """Foot point ``p`` (3,) at drive positions ``q`` (n,)."""
    m, n = screws.coupling.shape
    for k in range(3):
        p[k] = screws.foot[k]
    for i in range(m - 1, -1, -1):
        angle = screws.offset[i]
        for j in range(n):
            angle += screws.coupling[i, j] * q[j]
        if screws.slides[i]:
            for k in range(3):
                p[k] += angle * screws.axis[i, k]
            continue
        for k in range(3):
            p[k] -= screws.origin[i, k]
        _turn(p, screws.axis[i], math.sin(angle), math.cos(angle))
        for k in range(3):
            p[k] += screws.origin[i, k]


@within
def carry(screws, q, p, arm, axis):  # type: ignore[no-untyped-def]
    """Foot point ``p`` (3,), its rates ``arm`` (m, 3) and the turned ``axis`` (m, 3)."""
    m, n = screws.coupling.shape
    for k in range(3):
        p[k] = screws.foot[k]
    for i in range(m - 1, -1, -1):
        angle = screws.offset[i]
        for j in range(n):
            angle += screws.coupling[i, j] * q[j]
        for k in range(3):
            axis[i, k] = screws.axis[i, k]
        if screws.slides[i]:
            for k in range(3):
                p[k] += angle * screws.axis[i, k]
                arm[i, k] = screws.axis[i, k]
            continue
        s, c = math.sin(angle), math.cos(angle)
        for k in range(3):
            p[k] -= screws.origin[i, k]
        _turn(p, screws.axis[i], s, c)
        _cross(screws.axis[i], p, arm[i])
        for k in range(3):
            p[k] += screws.origin[i, k]
        for j in range(i + 1, m):
            _turn(arm[j], screws.axis[i], s, c)
            _turn(axis[j], screws.axis[i], s, c)


@kernel
def feet(screws, q, out):  # type: ignore[no-untyped-def]
    """Foot points ``out`` (N, 3) of drive positions ``q`` (N, n)."""
    for k in range(q.shape[0]):
        foot_at(screws, q[k], out[k])


@kernel
def jacobians(screws, q, out):  # type: ignore[no-untyped-def]
    """Jacobians ``out`` (N, 3, n) of drive positions ``q`` (N, n)."""
    m, n = screws.coupling.shape
    p = np.empty(3)
    arm = np.empty((m, 3))
    axis = np.empty((m, 3))
    for k in range(q.shape[0]):
        carry(screws, q[k], p, arm, axis)
        for row in range(3):
            for j in range(n):
                total = 0.0
                for i in range(m):
                    total += screws.coupling[i, j] * arm[i, row]
                out[k, row, j] = total
