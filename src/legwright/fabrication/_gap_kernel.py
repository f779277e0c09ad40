"""Kernels: distance from many triangles to convex shapes that move.

A shape is a core and a radius around it: a point, a box, a flat-ended cylinder, or a hull of
points. Distances are found by support mappings (Gilbert, Johnson and Keerthi, IEEE J. Robotics
Autom. 4(2):193-203, 1988), the nearest point of each simplex after Ericson, Real-Time Collision
Detection (2005), sec. 5.1 (from memory).
"""

from __future__ import annotations

import math

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
def _behind(ax, ay, az, bx, by, bz, cx, cy, cz, dx, dy, dz):  # type: ignore[no-untyped-def]
    """Whether the origin lies on a tetrahedron's side of one of its faces.

    The face by a corner a and what leads from there to the others, b and c; d leads to the
    corner across.
    """
    n0, n1, n2 = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
    here = -(ax * n0 + ay * n1 + az * n2)
    there = dx * n0 + dy * n1 + dz * n2
    square = n0 * n0 + n1 * n1 + n2 * n2
    flat = dx * dx + dy * dy + dz * dz
    return here * there > 0.0 and there * there > FLAT * square * flat


@_inner
def _on_segment(ax, ay, az, bx, by, bz):  # type: ignore[no-untyped-def]
    """Corners that the nearest point to the origin lies between, as bits 1, 2; and the point."""
    x, y, z = bx - ax, by - ay, bz - az
    t = -(ax * x + ay * y + az * z)
    length = x * x + y * y + z * z
    if t <= 0.0 or length <= 0.0:
        return 1, ax, ay, az
    if t >= length:
        return 2, bx, by, bz
    share = t / length
    return 3, ax + share * x, ay + share * y, az + share * z


@_inner
def _on_triangle(ax, ay, az, bx, by, bz, cx, cy, cz):  # type: ignore[no-untyped-def]
    """Corners that the nearest point to the origin lies between, as bits 1, 2, 4; and the point."""
    ux, uy, uz = bx - ax, by - ay, bz - az
    vx, vy, vz = cx - ax, cy - ay, cz - az
    d1 = -(ux * ax + uy * ay + uz * az)
    d2 = -(vx * ax + vy * ay + vz * az)
    if d1 <= 0.0 and d2 <= 0.0:
        return 1, ax, ay, az
    d3 = -(ux * bx + uy * by + uz * bz)
    d4 = -(vx * bx + vy * by + vz * bz)
    if d3 >= 0.0 and d4 <= d3:
        return 2, bx, by, bz
    d5 = -(ux * cx + uy * cy + uz * cz)
    d6 = -(vx * cx + vy * cy + vz * cz)
    if d6 >= 0.0 and d5 <= d6:
        return 4, cx, cy, cz
    va, vb, vc = d3 * d6 - d5 * d4, d5 * d2 - d1 * d6, d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        return _on_segment(ax, ay, az, bx, by, bz)
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        bits, x, y, z = _on_segment(ax, ay, az, cx, cy, cz)
        return (bits & 1) | ((bits & 2) << 1), x, y, z
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        bits, x, y, z = _on_segment(bx, by, bz, cx, cy, cz)
        return bits << 1, x, y, z
    total = va + vb + vc
    return (
        7,
        (va * ax + vb * bx + vc * cx) / total,
        (va * ay + vb * by + vc * cy) / total,
        (va * az + vb * bz + vc * cz) / total,
    )


@njit(cache=True, error_model="numpy")
def triangle_gap(t, kind, size, radius, hull, most, W, P, work):  # type: ignore[no-untyped-def]
    """Distance of a triangle (3, 3), in a shape's frame, from the shape; inf beyond ``most``.

    ``W``, ``P`` (4, 3) come back with the last simplex and its corners on the triangle, ``work``
    (3,) with the vector between the nearest points.

    Returns:
        Distance, negative by the depth where the triangle lies within the radius of the core, 0
        where it meets a core; and the corners of the simplex.
    """
    # What is handed to a function is counted as held there, which takes as long as a step of
    # the search: arrays stay here.
    count, vx, vy, vz, square = 1, 0.0, 0.0, 0.0, math.inf
    for i in range(3):  # from the corner that is nearest, or nearly so
        x, y, z = t[i, 0], t[i, 1], t[i, 2]
        if kind == BOX:
            x -= max(-size[0], min(x, size[0]))
            y -= max(-size[1], min(y, size[1]))
            z -= max(-size[2], min(z, size[2]))
        elif kind == CYLINDER:
            flat = math.sqrt(x * x + y * y)
            scale = 1.0 - size[0] / flat if flat > size[0] else 0.0
            x, y, z = scale * x, scale * y, z - max(-size[1], min(z, size[1]))
        elif kind == HULL:
            x, y, z = x - hull[0, 0], y - hull[0, 1], z - hull[0, 2]
        far = x * x + y * y + z * z
        if far < square:
            square, vx, vy, vz = far, x, y, z
            for k in range(3):
                P[0, k] = t[i, k]
    W[0, 0], W[0, 1], W[0, 2] = vx, vy, vz
    sx = sy = sz = 0.0
    for _ in range(ROUNDS):
        square = vx * vx + vy * vy + vz * vz
        if square < 1e-20:
            return -radius, count
        low, at = math.inf, 0
        for i in range(3):
            along = t[i, 0] * vx + t[i, 1] * vy + t[i, 2] * vz
            if along < low:
                low, at = along, i
        if kind == BOX:
            sx = size[0] if vx > 0.0 else -size[0]
            sy = size[1] if vy > 0.0 else -size[1]
            sz = size[2] if vz > 0.0 else -size[2]
        elif kind == CYLINDER:
            flat = math.sqrt(vx * vx + vy * vy)
            scale = size[0] / flat if flat > 1e-30 else 0.0
            sx, sy, sz = scale * vx, scale * vy, size[1] if vz > 0.0 else -size[1]
        elif kind == HULL:
            far = -math.inf
            for i in range(hull.shape[0]):
                along = hull[i, 0] * vx + hull[i, 1] * vy + hull[i, 2] * vz
                if along > far:
                    far, sx, sy, sz = along, hull[i, 0], hull[i, 1], hull[i, 2]
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
        count += 1
        if count == 2:
            bits, vx, vy, vz = _on_segment(W[0, 0], W[0, 1], W[0, 2], W[1, 0], W[1, 1], W[1, 2])
        else:
            bits, near = 0, math.inf
            for face in range(1 if count == 3 else 4):
                # Of a tetrahedron, each face that the origin lies behind.
                i, j, m = 0, 1, 2
                if count == 4:
                    i, j, m = (face + 1) & 3, (face + 2) & 3, (face + 3) & 3
                ax, ay, az = W[i, 0], W[i, 1], W[i, 2]
                bx, by, bz = W[j, 0], W[j, 1], W[j, 2]
                cx, cy, cz = W[m, 0], W[m, 1], W[m, 2]
                if count == 4 and _behind(
                    ax, ay, az, bx - ax, by - ay, bz - az, cx - ax, cy - ay, cz - az,
                    W[face, 0] - ax, W[face, 1] - ay, W[face, 2] - az,
                ):  # fmt: skip
                    continue
                some, x, y, z = _on_triangle(ax, ay, az, bx, by, bz, cx, cy, cz)
                far = x * x + y * y + z * z
                if far < near:
                    near, vx, vy, vz = far, x, y, z
                    bits = ((some & 1) << i) | (((some >> 1) & 1) << j) | ((some >> 2) << m)
        left = 0
        for i in range(count):
            if bits & (1 << i):
                if left != i:
                    for k in range(3):
                        W[left, k], P[left, k] = W[i, k], P[i, k]
                left += 1
        count = left
        if count == 0:
            work[0] = work[1] = work[2] = 0.0
            return -radius, 4
    work[0], work[1], work[2] = vx, vy, vz
    return math.sqrt(vx * vx + vy * vy + vz * vz) - radius, count
