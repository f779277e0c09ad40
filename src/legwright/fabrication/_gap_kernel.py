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
def _support(kind, size, hull, x, y, z):  # type: ignore[no-untyped-def]
    """Furthest point of a shape's core along (x, y, z), in the shape's own frame."""
    if kind == POINT:
        return 0.0, 0.0, 0.0
    if kind == BOX:
        return (
            size[0] if x > 0.0 else -size[0],
            size[1] if y > 0.0 else -size[1],
            size[2] if z > 0.0 else -size[2],
        )
    if kind == CYLINDER:
        flat = math.sqrt(x * x + y * y)
        scale = size[0] / flat if flat > 1e-30 else 0.0
        return scale * x, scale * y, size[1] if z > 0.0 else -size[1]
    best, at = -math.inf, 0
    for i in range(hull.shape[0]):
        along = hull[i, 0] * x + hull[i, 1] * y + hull[i, 2] * z
        if along > best:
            best, at = along, i
    return hull[at, 0], hull[at, 1], hull[at, 2]


@_inner
def _keep(W, P, bits):  # type: ignore[no-untyped-def]
    """Bring the corners whose bits are set to the front; returns how many."""
    left = 0
    for i in range(4):
        if bits & (1 << i):
            if left != i:
                for k in range(3):
                    W[left, k], P[left, k] = W[i, k], P[i, k]
            left += 1
    return left


@_inner
def _on_segment(W, a, b):  # type: ignore[no-untyped-def]
    """Corners that the nearest point to the origin lies between, as bits 1, 2; and the point."""
    t, length = 0.0, 0.0
    for k in range(3):
        t -= W[a, k] * (W[b, k] - W[a, k])
        length += (W[b, k] - W[a, k]) ** 2
    if t <= 0.0 or length <= 0.0:
        return 1, W[a, 0], W[a, 1], W[a, 2]
    if t >= length:
        return 2, W[b, 0], W[b, 1], W[b, 2]
    share = t / length
    return (
        3,
        W[a, 0] + share * (W[b, 0] - W[a, 0]),
        W[a, 1] + share * (W[b, 1] - W[a, 1]),
        W[a, 2] + share * (W[b, 2] - W[a, 2]),
    )


@_inner
def _on_triangle(W, a, b, c):  # type: ignore[no-untyped-def]
    """Corners that the nearest point to the origin lies between, as bits 1, 2, 4; and the point."""
    d1 = d2 = d3 = d4 = d5 = d6 = 0.0
    for k in range(3):
        ab, ac = W[b, k] - W[a, k], W[c, k] - W[a, k]
        d1 -= ab * W[a, k]
        d2 -= ac * W[a, k]
        d3 -= ab * W[b, k]
        d4 -= ac * W[b, k]
        d5 -= ab * W[c, k]
        d6 -= ac * W[c, k]
    if d1 <= 0.0 and d2 <= 0.0:
        return 1, W[a, 0], W[a, 1], W[a, 2]
    if d3 >= 0.0 and d4 <= d3:
        return 2, W[b, 0], W[b, 1], W[b, 2]
    if d6 >= 0.0 and d5 <= d6:
        return 4, W[c, 0], W[c, 1], W[c, 2]
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        return _on_segment(W, a, b)
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        bits, x, y, z = _on_segment(W, a, c)
        return (bits & 1) | ((bits & 2) << 1), x, y, z
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        bits, x, y, z = _on_segment(W, b, c)
        return bits << 1, x, y, z
    total = va + vb + vc
    return (
        7,
        (va * W[a, 0] + vb * W[b, 0] + vc * W[c, 0]) / total,
        (va * W[a, 1] + vb * W[b, 1] + vc * W[c, 1]) / total,
        (va * W[a, 2] + vb * W[b, 2] + vc * W[c, 2]) / total,
    )


@_inner
def _reduce(W, P, count):  # type: ignore[no-untyped-def]
    """Corners left over of a simplex, 0 where the origin is inside; its nearest point to that."""
    if count == 1:
        return 1, W[0, 0], W[0, 1], W[0, 2]
    if count == 2:
        bits, x, y, z = _on_segment(W, 0, 1)
        return _keep(W, P, bits), x, y, z
    if count == 3:
        bits, x, y, z = _on_triangle(W, 0, 1, 2)
        return _keep(W, P, bits), x, y, z
    best, bits_of = math.inf, 0
    vx = vy = vz = 0.0
    for face in range(4):
        i, j, m = (face + 1) % 4, (face + 2) % 4, (face + 3) % 4
        ax, ay, az = W[i, 0], W[i, 1], W[i, 2]
        bx, by, bz = W[j, 0] - ax, W[j, 1] - ay, W[j, 2] - az
        cx, cy, cz = W[m, 0] - ax, W[m, 1] - ay, W[m, 2] - az
        dx, dy, dz = W[face, 0] - ax, W[face, 1] - ay, W[face, 2] - az
        n0, n1, n2 = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
        here = -(ax * n0 + ay * n1 + az * n2)
        there = dx * n0 + dy * n1 + dz * n2
        square = n0 * n0 + n1 * n1 + n2 * n2
        flat = dx * dx + dy * dy + dz * dz
        if here * there > 0.0 and there * there > FLAT * square * flat:
            continue
        bits, x, y, z = _on_triangle(W, i, j, m)
        far = x * x + y * y + z * z
        if far < best:
            best, vx, vy, vz = far, x, y, z
            bits_of = 0
            if bits & 1:
                bits_of |= 1 << i
            if bits & 2:
                bits_of |= 1 << j
            if bits & 4:
                bits_of |= 1 << m
    return _keep(W, P, bits_of), vx, vy, vz


@njit(cache=True, error_model="numpy")
def triangle_gap(t, kind, size, radius, hull, most, W, P, work):  # type: ignore[no-untyped-def]
    """Distance of a triangle (3, 3), in a shape's frame, from the shape; inf beyond ``most``.

    ``W``, ``P`` (4, 3) come back with the last simplex and its corners on the triangle, ``work``
    (3,) with the vector between the nearest points.

    Returns:
        Distance, negative by the depth where the triangle lies within the radius of the core, 0
        where it meets a core; and the corners of the simplex.
    """
    sx, sy, sz = _support(kind, size, hull, t[0, 0], t[0, 1], t[0, 2])
    for k in range(3):
        P[0, k] = t[0, k]
    vx, vy, vz = t[0, 0] - sx, t[0, 1] - sy, t[0, 2] - sz
    W[0, 0], W[0, 1], W[0, 2] = vx, vy, vz
    count = 1
    for _ in range(ROUNDS):
        square = vx * vx + vy * vy + vz * vz
        if square < 1e-20:
            return -radius, count
        low, at = math.inf, 0
        for i in range(3):
            along = t[i, 0] * vx + t[i, 1] * vy + t[i, 2] * vz
            if along < low:
                low, at = along, i
        sx, sy, sz = _support(kind, size, hull, vx, vy, vz)
        bound = low - (sx * vx + sy * vy + sz * vz)
        if bound > 0.0 and bound > (most + radius) * math.sqrt(square):
            return math.inf, count
        if square - bound <= CLOSE * square:
            break
        x, y, z = t[at, 0] - sx, t[at, 1] - sy, t[at, 2] - sz
        known = False
        for i in range(count):
            if W[i, 0] == x and W[i, 1] == y and W[i, 2] == z:
                known = True
        if known:
            break
        W[count, 0], W[count, 1], W[count, 2] = x, y, z
        P[count, 0], P[count, 1], P[count, 2] = t[at, 0], t[at, 1], t[at, 2]
        count, vx, vy, vz = _reduce(W, P, count + 1)
        if count == 0:
            work[0] = work[1] = work[2] = 0.0
            return -radius, 4
    work[0], work[1], work[2] = vx, vy, vz
    return math.sqrt(vx * vx + vy * vy + vz * vz) - radius, count


@_inner
def _reaches(kind, size, hull):  # type: ignore[no-untyped-def]
    """Least and greatest x, y, z of a shape's core, in its own frame."""
    x, _, _ = _support(kind, size, hull, 1.0, 0.0, 0.0)
    _, y, _ = _support(kind, size, hull, 0.0, 1.0, 0.0)
    _, _, z = _support(kind, size, hull, 0.0, 0.0, 1.0)
    u, _, _ = _support(kind, size, hull, -1.0, 0.0, 0.0)
    _, v, _ = _support(kind, size, hull, 0.0, -1.0, 0.0)
    _, _, w = _support(kind, size, hull, 0.0, 0.0, -1.0)
    return u, v, w, x, y, z


@_inner
def _outside(local, k, low, high):  # type: ignore[no-untyped-def]
    """How far a triangle lies outside a range of one coordinate."""
    least = min(local[0, k], local[1, k], local[2, k])
    most = max(local[0, k], local[1, k], local[2, k])
    return max(0.0, least - high, low - most)


@_inner
def _off_plane(local, kind, size, hull):  # type: ignore[no-untyped-def]
    """Distance of a shape's core from a triangle's plane; 0 where the plane cuts it."""
    ax, ay, az = local[0, 0], local[0, 1], local[0, 2]
    bx, by, bz = local[1, 0] - ax, local[1, 1] - ay, local[1, 2] - az
    cx, cy, cz = local[2, 0] - ax, local[2, 1] - ay, local[2, 2] - az
    x, y, z = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
    length = math.sqrt(x * x + y * y + z * z)
    if length < 1e-20:
        return 0.0
    level = ax * x + ay * y + az * z
    if level < 0.0:
        x, y, z, level = -x, -y, -z, -level
    sx, sy, sz = _support(kind, size, hull, x, y, z)
    return max(0.0, level - (sx * x + sy * y + sz * z)) / length


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
def least_gaps(  # type: ignore[no-untyped-def]
    low, high, corners, kind, size, radius, hull, centre, turn, most, enough, least, each, best, at
):
    """Distances of one moving shape from a surface.

    Poses ``centre`` (T, 3), ``turn`` (T, 3, 3) of the shape in the surface's frame. With
    ``each`` 1, ``best`` (T,) and ``at`` (T, 2) tell of every pose, up to ``most`` (T,); with 0,
    ``best`` (1,) and ``at`` (1, 2) tell of the least over all poses, up to ``most`` (1,): pose
    and triangle. Of a pose nearer than ``enough``, (T,) or (1,), the distance is exact where it
    is less than ``least``, else some larger one.
    """
    first_leaf = low.shape[0] // 2
    stack = np.empty(64, dtype=np.int64)
    box, local = np.empty((2, 3)), np.empty((3, 3))
    W, P, work = np.empty((4, 3)), np.empty((4, 3)), np.empty(3)
    u, v, w, x, y, z = _reaches(kind, size, hull)
    wide, tall, deep = max(abs(u), abs(x)), max(abs(v), abs(y)), max(abs(w), abs(z))
    girth = math.sqrt(wide * wide + tall * tall + deep * deep) + radius
    known = most[0] if each == 0 else 0.0
    for t in range(centre.shape[0]):
        if each == 1:
            known = most[t]
        plenty = enough[t if each == 1 else 0]
        far = 0.0
        for k in range(3):
            far += max(0.0, low[0, k] - centre[t, k], centre[t, k] - high[0, k]) ** 2
        if far > (max(known, 0.0) + girth) ** 2:
            continue
        for k in range(3):
            a, b, c = turn[t, k, 0], turn[t, k, 1], turn[t, k, 2]
            sx, sy, sz = _support(kind, size, hull, a, b, c)
            box[1, k] = centre[t, k] + a * sx + b * sy + c * sz + radius
            sx, sy, sz = _support(kind, size, hull, -a, -b, -c)
            box[0, k] = centre[t, k] + a * sx + b * sy + c * sz - radius
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
                for m in range(3):
                    dx = corners[n, m, 0] - centre[t, 0]
                    dy = corners[n, m, 1] - centre[t, 1]
                    dz = corners[n, m, 2] - centre[t, 2]
                    for k in range(3):
                        local[m, k] = turn[t, 0, k] * dx + turn[t, 1, k] * dy + turn[t, 2, k] * dz
                # Two bounds from below, before the distance is worked out.
                room = max(known, 0.0) + radius
                far = _outside(local, 0, u, x) ** 2
                far += _outside(local, 1, v, y) ** 2
                far += _outside(local, 2, w, z) ** 2
                if far > room * room or _off_plane(local, kind, size, hull) > room:
                    continue
                gap, _ = triangle_gap(local, kind, size, radius, hull, known, W, P, work)
                if gap < known:
                    known = min(gap, least) if gap < plenty else gap
                    best[slot] = gap
                    at[slot, 0], at[slot, 1] = t, n
        if each == 0 and known <= -radius:
            break
