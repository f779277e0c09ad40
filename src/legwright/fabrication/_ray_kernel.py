"""Kernels: rays against a tree of boxes over triangles."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within

LEAF = 4
DEPTH = 64


@within
def _slab(low, high, o, inverse):  # type: ignore[no-untyped-def]
    """Where a ray enters and leaves what lies between two planes; inf and -inf where it misses."""
    if math.isinf(inverse):
        return (0.0, math.inf) if low <= o <= high else (math.inf, -math.inf)
    a, b = (low - o) * inverse, (high - o) * inverse
    return min(a, b), max(a, b)


@within
def _cut(a0, a1, a2, e0, e1, e2, f0, f1, f2, o0, o1, o2, d0, d1, d2):  # type: ignore[no-untyped-def]
    """Distance along a ray to a triangle, and +1 where seen from behind, -1 from ahead.

    The triangle by a corner a and what leads from there to the others, e and f.
    Moeller and Trumbore, J. Graph. Tools 2(1):21-28, 1997.
    """
    p0, p1, p2 = d1 * f2 - d2 * f1, d2 * f0 - d0 * f2, d0 * f1 - d1 * f0
    det = e0 * p0 + e1 * p1 + e2 * p2
    if det == 0.0:
        return math.inf, 0
    s0, s1, s2 = o0 - a0, o1 - a1, o2 - a2
    u = (s0 * p0 + s1 * p1 + s2 * p2) / det
    if u < 0.0 or u > 1.0:
        return math.inf, 0
    q0, q1, q2 = s1 * e2 - s2 * e1, s2 * e0 - s0 * e2, s0 * e1 - s1 * e0
    v = (d0 * q0 + d1 * q1 + d2 * q2) / det
    if v < 0.0 or u + v > 1.0:
        return math.inf, 0
    return (f0 * q0 + f1 * q1 + f2 * q2) / det, (1 if det < 0.0 else -1)


@kernel
def first_hits(low, high, corners, order, origins, ways, skip, behind, out, face):  # type: ignore[no-untyped-def]
    """Distances ``out`` (R,) and triangles ``face`` (R,) of first hits.

    ``behind`` 1: only triangles seen from behind count. A hit at no distance does not count.
    """
    # Inner functions get numbers, no arrays: what is handed on is counted as held there.
    first_leaf = low.shape[0] // 2
    stack, away = np.empty(DEPTH, dtype=np.int64), np.empty(DEPTH)
    for r in range(origins.shape[0]):
        o0, o1, o2 = origins[r, 0], origins[r, 1], origins[r, 2]
        d0, d1, d2 = ways[r, 0], ways[r, 1], ways[r, 2]
        i0 = 1.0 / d0 if d0 != 0.0 else math.inf
        i1 = 1.0 / d1 if d1 != 0.0 else math.inf
        i2 = 1.0 / d2 if d2 != 0.0 else math.inf
        best, which = math.inf, -1
        stack[0], away[0] = 0, 0.0
        top = 1
        while top:
            top -= 1
            i = stack[top]
            if away[top] >= best:
                continue
            if i >= first_leaf:
                start = (i - first_leaf) * LEAF
                for n in range(start, min(start + LEAF, corners.shape[0])):
                    if order[n] == skip[r]:
                        continue
                    x, y, z = corners[n, 0, 0], corners[n, 0, 1], corners[n, 0, 2]
                    t, side = _cut(
                        x, y, z,
                        corners[n, 1, 0] - x, corners[n, 1, 1] - y, corners[n, 1, 2] - z,
                        corners[n, 2, 0] - x, corners[n, 2, 1] - y, corners[n, 2, 2] - z,
                        o0, o1, o2, d0, d1, d2,
                    )  # fmt: skip
                    if t > 1e-12 and t < best and (behind == 0 or side > 0):
                        best, which = t, order[n]
                continue
            to_one = to_two = math.inf
            for child in range(2 * i + 1, 2 * i + 3):
                if low[child, 0] > high[child, 0]:
                    continue  # it holds nothing
                a, b = _slab(low[child, 0], high[child, 0], o0, i0)
                c, d = _slab(low[child, 1], high[child, 1], o1, i1)
                e, f = _slab(low[child, 2], high[child, 2], o2, i2)
                near, far = max(0.0, a, c, e), min(b, d, f)
                if near > far * (1.0 + 1e-12):
                    continue
                if child & 1:
                    to_one = near
                else:
                    to_two = near
            for turn in range(2):  # the nearer is opened next
                if (turn == 0) == (to_one > to_two):
                    child, near = 2 * i + 1, to_one
                else:
                    child, near = 2 * i + 2, to_two
                if near < best:
                    stack[top], away[top] = child, near
                    top += 1
        out[r], face[r] = best, which
