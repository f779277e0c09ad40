"""Kernels: distance from many triangles to convex shapes that move.

A shape is a core and a radius around it: a point, a box, a flat-ended cylinder, or a hull of
points. Distances are found by support mappings (Gilbert, Johnson and Keerthi, IEEE J. Robotics
Autom. 4(2):193-203, 1988), the nearest point of each simplex after Ericson, Real-Time Collision
Detection (2005), sec. 5.1 (from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

LEAF = 4
POINT, BOX, CYLINDER, HULL = 0, 1, 2, 3
ROUNDS = 60
CLOSE = 1e-11
"""Gap between bounds of a squared distance at which it counts as found, relative."""

FLAT = 1e-12
"""A tetrahedron's corner this near to the plane of the others (squared, relative) says nothing
about which side the origin is on."""

_inner = njit(cache=True, error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)


@_inner
def _support(kind, size, hull, d, out):  # type: ignore[no-untyped-def]
    """Furthest point ``out`` of a shape's core along d, in the shape's own frame."""
    if kind == POINT:
        for k in range(3):
            out[k] = 0.0
    elif kind == BOX:
        for k in range(3):
            out[k] = size[k] if d[k] > 0.0 else -size[k]
    elif kind == CYLINDER:
        flat = math.sqrt(d[0] * d[0] + d[1] * d[1])
        scale = size[0] / flat if flat > 1e-30 else 0.0
        out[0], out[1] = scale * d[0], scale * d[1]
        out[2] = size[1] if d[2] > 0.0 else -size[1]
    else:
        best, at = -math.inf, 0
        for i in range(hull.shape[0]):
            along = hull[i, 0] * d[0] + hull[i, 1] * d[1] + hull[i, 2] * d[2]
            if along > best:
                best, at = along, i
        for k in range(3):
            out[k] = hull[at, k]


@_inner
def _copy(a, out):  # type: ignore[no-untyped-def]
    for k in range(3):
        out[k] = a[k]


@_inner
def _dot(a, b):  # type: ignore[no-untyped-def]
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@_inner
def _keep(W, P, bits):  # type: ignore[no-untyped-def]
    """Bring the corners whose bits are set to the front; returns how many."""
    left = 0
    for i in range(4):
        if bits & (1 << i):
            if left != i:
                _copy(W[i], W[left])
                _copy(P[i], P[left])
            left += 1
    return left


@_inner
def _on_segment(a, b, v):  # type: ignore[no-untyped-def]
    """Nearest point ``v`` to the origin; the corners it lies between as bits 1, 2."""
    t, length = 0.0, 0.0
    for k in range(3):
        t -= a[k] * (b[k] - a[k])
        length += (b[k] - a[k]) ** 2
    if t <= 0.0 or length <= 0.0:
        _copy(a, v)
        return 1
    if t >= length:
        _copy(b, v)
        return 2
    for k in range(3):
        v[k] = a[k] + t / length * (b[k] - a[k])
    return 3


@_inner
def _on_triangle(a, b, c, v):  # type: ignore[no-untyped-def]
    """Nearest point ``v`` to the origin; the corners it lies between as bits 1, 2, 4."""
    d1 = d2 = d3 = d4 = d5 = d6 = 0.0
    for k in range(3):
        ab, ac = b[k] - a[k], c[k] - a[k]
        d1 -= ab * a[k]
        d2 -= ac * a[k]
        d3 -= ab * b[k]
        d4 -= ac * b[k]
        d5 -= ab * c[k]
        d6 -= ac * c[k]
    if d1 <= 0.0 and d2 <= 0.0:
        _copy(a, v)
        return 1
    if d3 >= 0.0 and d4 <= d3:
        _copy(b, v)
        return 2
    if d6 >= 0.0 and d5 <= d6:
        _copy(c, v)
        return 4
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        return _on_segment(a, b, v)
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        bits = _on_segment(a, c, v)
        return (bits & 1) | ((bits & 2) << 1)
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        return _on_segment(b, c, v) << 1
    total = va + vb + vc
    for k in range(3):
        v[k] = (va * a[k] + vb * b[k] + vc * c[k]) / total
    return 7


@_inner
def _reduce(W, P, count, v, spare):  # type: ignore[no-untyped-def]
    """Nearest point ``v`` of a simplex to the origin; corners left over, 0 where it is inside."""
    if count == 1:
        _copy(W[0], v)
        return 1
    if count == 2:
        return _keep(W, P, _on_segment(W[0], W[1], v))
    if count == 3:
        return _keep(W, P, _on_triangle(W[0], W[1], W[2], v))
    best, bits_of = math.inf, 0
    for face in range(4):
        i, j, m = (face + 1) % 4, (face + 2) % 4, (face + 3) % 4
        a, b, c, d = W[i], W[j], W[m], W[face]
        n0 = (b[1] - a[1]) * (c[2] - a[2]) - (b[2] - a[2]) * (c[1] - a[1])
        n1 = (b[2] - a[2]) * (c[0] - a[0]) - (b[0] - a[0]) * (c[2] - a[2])
        n2 = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        here = -(a[0] * n0 + a[1] * n1 + a[2] * n2)
        there = (d[0] - a[0]) * n0 + (d[1] - a[1]) * n1 + (d[2] - a[2]) * n2
        square = n0 * n0 + n1 * n1 + n2 * n2
        flat = 0.0
        for k in range(3):
            flat += (d[k] - a[k]) ** 2
        if here * there > 0.0 and there * there > FLAT * square * flat:
            continue
        bits = _on_triangle(a, b, c, spare)
        far = _dot(spare, spare)
        if far < best:
            best = far
            _copy(spare, v)
            bits_of = 0
            if bits & 1:
                bits_of |= 1 << i
            if bits & 2:
                bits_of |= 1 << j
            if bits & 4:
                bits_of |= 1 << m
    return _keep(W, P, bits_of)


@njit(cache=True, error_model="numpy")
def triangle_gap(t, kind, size, radius, hull, most, W, P, work):  # type: ignore[no-untyped-def]
    """Distance of a triangle (3, 3), in a shape's frame, from the shape; inf beyond ``most``.

    ``W``, ``P`` (4, 3) come back with the last simplex and its corners on the triangle, ``work``
    (4, 3) with the vector between the nearest points in its first row.

    Returns:
        Distance, negative by the depth where the triangle lies within the radius of the core, 0
        where it meets a core; and the corners of the simplex.
    """
    v, s, d, spare = work[0], work[1], work[2], work[3]
    for k in range(3):
        W[0, k] = P[0, k] = t[0, k]
    _copy(W[0], d)
    _support(kind, size, hull, d, s)
    for k in range(3):
        W[0, k] -= s[k]
    _copy(W[0], v)
    count = 1
    for _ in range(ROUNDS):
        square = _dot(v, v)
        if square < 1e-20:
            return -radius, count
        low, at = math.inf, 0
        for i in range(3):
            along = _dot(t[i], v)
            if along < low:
                low, at = along, i
        _support(kind, size, hull, v, s)
        bound = low - _dot(s, v)
        if bound > 0.0 and bound > (most + radius) * math.sqrt(square):
            return math.inf, count
        if square - bound <= CLOSE * square:
            break
        known = False
        for i in range(count):
            if (
                W[i, 0] == t[at, 0] - s[0]
                and W[i, 1] == t[at, 1] - s[1]
                and W[i, 2] == t[at, 2] - s[2]
            ):
                known = True
        if known:
            break
        for k in range(3):
            W[count, k], P[count, k] = t[at, k] - s[k], t[at, k]
        count = _reduce(W, P, count + 1, v, spare)
        if count == 0:
            for k in range(3):
                v[k] = 0.0
            return -radius, 4
    return math.sqrt(_dot(v, v)) - radius, count


@_inner
def _apart(low, high, i, box):  # type: ignore[no-untyped-def]
    """Least distance between box i of the tree and an upright box (2, 3)."""
    total = 0.0
    for k in range(3):
        if low[i, k] > high[i, k]:
            return math.inf
        gap = max(low[i, k] - box[1, k], box[0, k] - high[i, k])
        if gap > 0.0:
            total += gap * gap
    return math.sqrt(total)


@njit(cache=True, error_model="numpy")
def least_gaps(low, high, corners, kind, size, radius, hull, centre, turn, most, each, best, at):  # type: ignore[no-untyped-def]
    """Distances of one moving shape from a surface.

    Poses ``centre`` (T, 3), ``turn`` (T, 3, 3) of the shape in the surface's frame. With
    ``each`` 1, ``best`` (T,) and ``at`` (T, 2) tell of every pose, up to ``most``; with 0,
    ``best`` (1,) and ``at`` (1, 2) tell of the least over all poses: pose and triangle.
    """
    first_leaf = low.shape[0] // 2
    stack = np.empty(64, dtype=np.int64)
    box, local = np.empty((2, 3)), np.empty((3, 3))
    W, P, work = np.empty((4, 3)), np.empty((4, 3)), np.empty((4, 3))
    d, s = np.empty(3), np.empty(3)
    known = most
    for t in range(centre.shape[0]):
        if each == 1:
            known = most
        R, c = turn[t], centre[t]
        for k in range(3):
            for sign in range(2):
                for m in range(3):
                    d[m] = R[k, m] if sign == 1 else -R[k, m]
                _support(kind, size, hull, d, s)
                reach = R[k, 0] * s[0] + R[k, 1] * s[1] + R[k, 2] * s[2]
                box[sign, k] = c[k] + reach + (radius if sign == 1 else -radius)
        slot = t if each == 1 else 0
        stack[0] = 0
        top = 1
        while top:
            top -= 1
            i = stack[top]
            if _apart(low, high, i, box) >= max(known, 1e-12):
                continue
            if i < first_leaf:
                one, two = 2 * i + 1, 2 * i + 2
                if _apart(low, high, one, box) <= _apart(low, high, two, box):
                    one, two = two, one
                stack[top], stack[top + 1] = one, two
                top += 2
                continue
            start = (i - first_leaf) * LEAF
            for n in range(start, min(start + LEAF, corners.shape[0])):
                for a in range(3):
                    for k in range(3):
                        local[a, k] = (
                            R[0, k] * (corners[n, a, 0] - c[0])
                            + R[1, k] * (corners[n, a, 1] - c[1])
                            + R[2, k] * (corners[n, a, 2] - c[2])
                        )
                gap, _ = triangle_gap(local, kind, size, radius, hull, known, W, P, work)
                if gap < known:
                    known = gap
                    best[slot] = gap
                    at[slot, 0], at[slot, 1] = t, n
        if each == 0 and known <= -radius:
            break
