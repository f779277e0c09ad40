"""Kernels: rays against a tree of boxes over triangles."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

LEAF = 4
DEPTH = 64

_inner = njit(cache=True, error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)


@_inner
def _box(low, high, i, o, inv):  # type: ignore[no-untyped-def]
    """Where a ray enters box i; inf where it misses."""
    near, far = 0.0, math.inf
    for k in range(3):
        if low[i, k] > high[i, k]:
            return math.inf
        if math.isinf(inv[k]):
            if o[k] < low[i, k] or o[k] > high[i, k]:
                return math.inf
            continue
        a = (low[i, k] - o[k]) * inv[k]
        b = (high[i, k] - o[k]) * inv[k]
        near = max(near, min(a, b))
        far = min(far, max(a, b))
    return near if near <= far * (1.0 + 1e-12) else math.inf


@_inner
def _cut(t, o, d):  # type: ignore[no-untyped-def]
    """Distance along a ray to triangle t (3, 3), and +1 where seen from behind, -1 from ahead.

    Moeller and Trumbore, J. Graph. Tools 2(1):21-28, 1997.
    """
    e0, e1, e2 = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
    f0, f1, f2 = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
    p0, p1, p2 = d[1] * f2 - d[2] * f1, d[2] * f0 - d[0] * f2, d[0] * f1 - d[1] * f0
    det = e0 * p0 + e1 * p1 + e2 * p2
    if det == 0.0:
        return math.inf, 0
    s0, s1, s2 = o[0] - t[0, 0], o[1] - t[0, 1], o[2] - t[0, 2]
    u = (s0 * p0 + s1 * p1 + s2 * p2) / det
    if u < 0.0 or u > 1.0:
        return math.inf, 0
    q0, q1, q2 = s1 * e2 - s2 * e1, s2 * e0 - s0 * e2, s0 * e1 - s1 * e0
    v = (d[0] * q0 + d[1] * q1 + d[2] * q2) / det
    if v < 0.0 or u + v > 1.0:
        return math.inf, 0
    return (f0 * q0 + f1 * q1 + f2 * q2) / det, (1 if det < 0.0 else -1)


@njit(cache=True, error_model="numpy")
def first_hits(low, high, corners, order, origins, ways, skip, behind, out, face):  # type: ignore[no-untyped-def]
    """Distances ``out`` (R,) and triangles ``face`` (R,) of first hits.

    ``behind`` 1: only triangles seen from behind count. A hit at no distance does not count.
    """
    first_leaf = low.shape[0] // 2
    stack = np.empty(DEPTH, dtype=np.int64)
    inv = np.empty(3)
    for r in range(origins.shape[0]):
        o, d = origins[r], ways[r]
        for k in range(3):
            inv[k] = 1.0 / d[k] if d[k] != 0.0 else math.inf
        best, which = math.inf, -1
        stack[0] = 0
        top = 1
        while top:
            top -= 1
            i = stack[top]
            if _box(low, high, i, o, inv) >= best:
                continue
            if i >= first_leaf:
                start = (i - first_leaf) * LEAF
                for n in range(start, min(start + LEAF, corners.shape[0])):
                    if order[n] == skip[r]:
                        continue
                    t, side = _cut(corners[n], o, d)
                    if t > 1e-12 and t < best and (behind == 0 or side > 0):
                        best, which = t, order[n]
                continue
            one, two = 2 * i + 1, 2 * i + 2
            if _box(low, high, one, o, inv) <= _box(low, high, two, o, inv):
                one, two = two, one
            stack[top], stack[top + 1] = one, two
            top += 2
        out[r], face[r] = best, which
