"""Kernel: where the ground touches each foot.

The engine would meet a height field triangle by triangle, each with a spring of its own, so
that a foot on a seam would stand on twice the stiffness. Instead every foot has one plate of
its own, laid so that the contact is the spring of a ball against all of the ground near it:
the force is ``K u``, u the shortest way by which the ball would come free. On a face u is the
depth along the normal, on an edge it is radial, between floor and wall it is the sum of both.

Each triangle at distance d in direction n asks ``n u >= R - d``; u is the shortest vector that
grants all of it. It changes continuously with the foot's place, because distances and
directions do, and because triangles are asked before they touch (`MARGIN`). A ball is free
where its distance to the ground is its radius: f = K u is the gradient of half K times the
squared distance to the places where it is free (Moreau 1965).
"""

from __future__ import annotations

from math import floor, sqrt

import numpy as np
from numba import njit

from legwright.kernel import kernel

AWAY = -1000.0
"""Where unused plates lie [m]."""

MARGIN = 0.004
"""Triangles are asked when the foot is this near [m]."""

GRAZING = 0.15
"""A face is fully asked where the line of sight rises over it by more than this [rad]."""

MOST = 64
"""Most triangles that are asked of one foot."""

ROUNDS = 20
"""Most times that a triangle is found in the way."""

PARALLEL = 1e-6
"""Square of the angle below which two directions are one [rad²]."""

SMALL = 1e-8
"""What is granted to within this is granted [m]."""


@kernel
def lay_plates(heights, spacing, x0, y0, position, feet, radius, plate, turn):  # type: ignore[no-untyped-def]
    """Lay the plates of all feet.

    Args:
        heights: (R, C), contiguous [m].
        spacing: [m]
        x0: x of the first row [m].
        y0: y of the first column [m].
        position: Of all geoms, (G, 3) [m].
        feet: Geoms of the feet, (L,).
        radius: Of the feet, (L,) [m].
        plate: Positions of the plates, (L, 3); changed.
        turn: Their quaternions, whose z axis is the normal, (L, 4); changed.
    """
    rows, columns = heights.shape
    asked = np.empty((MOST, 4))
    for f in range(feet.shape[0]):
        x, y, z = position[feet[f], 0], position[feet[f], 1], position[feet[f], 2]
        # Beyond the edge the ground goes on level: look where the edge is nearest.
        px = min(max(x, x0), x0 + spacing * (rows - 1))
        py = min(max(y, y0), y0 + spacing * (columns - 1))
        reach = radius[f] + MARGIN
        i0 = min(max(floor((px - reach - x0) / spacing), 0), rows - 2)
        i1 = min(max(floor((px + reach - x0) / spacing), 0), rows - 2)
        j0 = min(max(floor((py - reach - y0) / spacing), 0), columns - 2)
        j1 = min(max(floor((py + reach - y0) / spacing), 0), columns - 2)
        low, high = 1e9, -1e9
        for i in range(i0, i1 + 2):
            for j in range(j0, j1 + 2):
                low, high = min(low, heights[i, j]), max(high, heights[i, j])
        if high < z - reach:
            _lay(plate, turn, f, x, y, AWAY, 0.0, 0.0, 1.0)
            continue
        if low == high:
            _lay(plate, turn, f, x, y, low, 0.0, 0.0, 1.0)
            continue
        i = min(max(floor((px - x0) / spacing), 0), rows - 2)
        j = min(max(floor((py - y0) / spacing), 0), columns - 2)
        under = z < _height(heights, i, j, (px - x0) / spacing - i, (py - y0) / spacing - j)
        count, first = 0, 0
        for i in range(i0, i1 + 1):
            for j in range(j0, j1 + 1):
                a, b = heights[i, j], heights[i + 1, j]
                c, d = heights[i, j + 1], heights[i + 1, j + 1]
                if max(a, b, c, d) < z - reach:
                    continue
                ux, uy = px - x0 - spacing * i, py - y0 - spacing * j
                for half in range(2):
                    if half == 0:
                        n = _ask(asked, count, ux, uy, z - a, spacing, b - a, c - a, under, reach)
                    else:
                        n = _ask(
                            asked, count, ux - spacing, uy - spacing, z - d, -spacing, c - d, b - d,
                            under, reach,
                        )  # fmt: skip
                    if n > 0 and count < MOST - 1:
                        if asked[count, 3] < asked[first, 3]:
                            first = count
                        count += 1
        if count == 0:
            _lay(plate, turn, f, x, y, AWAY, 0.0, 0.0, 1.0)
            continue
        gap = asked[first, 3]
        nx, ny, nz = asked[first, 0], asked[first, 1], asked[first, 2]
        if gap < radius[f] - 2.0 * SMALL and not under:
            u = _free(asked, count, first, radius[f])
            size = sqrt(u[0] * u[0] + u[1] * u[1] + u[2] * u[2])
            gap, nx, ny, nz = radius[f] - size, u[0] / size, u[1] / size, u[2] / size
        _lay(plate, turn, f, x - gap * nx, y - gap * ny, z - gap * nz, nx, ny, nz)


@kernel
def _free(asked, count, first, radius):  # type: ignore[no-untyped-def]
    """The shortest vector u with ``n u >= radius - d`` for every row n, d of ``asked``.

    Source: Goldfarb & Idnani 1983, the dual method for quadratic programs, here with the unit
    matrix and no more than three rows that bear (``held``) at a time.
    """
    u, way = np.zeros(3), np.empty(3)
    base, slant = np.empty((3, 3)), np.empty((3, 3))
    held, load, share = np.empty(3, np.int64), np.empty(3), np.empty(3)
    bear, worst = 0, first
    for _ in range(ROUNDS):
        due = SMALL
        for n in range(count):
            lack = radius - asked[n, 3] - _dot(asked, n, u)
            if lack > due:
                worst, due = n, lack
        if due <= SMALL:
            break
        pushed = 0.0
        while True:
            # Split the row's direction into shares of the bearing rows and what is new in it.
            for axis in range(3):
                way[axis] = asked[worst, axis]
            for k in range(bear):
                share[k] = _dot(base, k, way)
                for axis in range(3):
                    way[axis] -= share[k] * base[k, axis]
            for k in range(bear - 1, -1, -1):
                for m in range(k + 1, bear):
                    share[k] -= slant[m, k] * share[m]
                share[k] /= slant[k, k]
            fresh = way[0] * way[0] + way[1] * way[1] + way[2] * way[2]
            full = (radius - asked[worst, 3] - _dot(asked, worst, u)) / max(fresh, 1e-300)
            go, leaves = (full if fresh > PARALLEL else 1e300), -1
            for k in range(bear):
                if share[k] > 0.0 and load[k] < go * share[k]:
                    go, leaves = load[k] / share[k], k
            if go >= 1e299:
                return u
            for axis in range(3):
                u[axis] += go * way[axis] if fresh > PARALLEL else 0.0
            for k in range(bear):
                load[k] -= go * share[k]
            pushed += go
            if leaves < 0:
                held[bear], load[bear] = worst, pushed
                bear = _rest(asked, held, bear + 1, base, slant)
                break
            for k in range(leaves, bear - 1):
                held[k], load[k] = held[k + 1], load[k + 1]
            bear = _rest(asked, held, bear - 1, base, slant)
    return u


@kernel
def _rest(asked, held, bear, base, slant):  # type: ignore[no-untyped-def]
    """Gram-Schmidt of the bearing rows, row k being ``slant[k, :k + 1]`` in ``base``."""
    for k in range(bear):
        for axis in range(3):
            base[k, axis] = asked[held[k], axis]
        for m in range(k):
            slant[k, m] = _dot(asked, held[k], base[m])
            for axis in range(3):
                base[k, axis] -= slant[k, m] * base[m, axis]
        slant[k, k] = sqrt(_dot(base, k, base[k]))
        for axis in range(3):
            base[k, axis] /= slant[k, k]
    return bear


@njit(cache=True, inline="always")
def _dot(rows, n, v):  # type: ignore[no-untyped-def]
    return rows[n, 0] * v[0] + rows[n, 1] * v[1] + rows[n, 2] * v[2]


@njit(cache=True, inline="always")
def _ask(asked, row, px, py, pz, s, rise_x, rise_y, under, reach):  # type: ignore[no-untyped-def]
    """Direction and distance from one triangle to a foot, written to a row; 1 if it matters.

    The triangle has its right angle at the origin and legs (s, 0, rise_x), (0, s, rise_y). Only
    faces count that are seen from their front; those at grazing sight come in by and by. For a
    centre within the ground only faces that lie square above it count, at negative distance.
    """
    v, w = _nearest(px, py, pz, s, rise_x, rise_y)
    dx, dy, dz = px - v * s, py - w * s, pz - v * rise_x - w * rise_y
    gap = sqrt(dx * dx + dy * dy + dz * dz)
    if gap >= reach:
        return 0
    turned = 1.0 if s > 0.0 else -1.0
    size = 1.0 / sqrt(s * s + rise_x * rise_x + rise_y * rise_y)
    fx, fy, fz = -turned * rise_x * size, -turned * rise_y * size, abs(s) * size
    side = dx * fx + dy * fy + dz * fz
    if under or gap < 1e-9:
        if side > 0.0 or (gap > 1e-9 and side > -0.999 * gap):
            return 0
        asked[row, 0], asked[row, 1], asked[row, 2], asked[row, 3] = fx, fy, fz, side
        return 1
    if side <= 0.0:
        return 0
    asked[row, 0], asked[row, 1], asked[row, 2] = dx / gap, dy / gap, dz / gap
    asked[row, 3] = gap + MARGIN * max(1.0 - side / (GRAZING * gap), 0.0)
    return 1


@njit(cache=True, inline="always")
def _height(heights, i, j, u, v):  # type: ignore[no-untyped-def]
    """Of the triangles at shares u, v of a cell."""
    a, b = heights[i, j], heights[i + 1, j]
    c, d = heights[i, j + 1], heights[i + 1, j + 1]
    if u + v <= 1.0:
        return a + u * (b - a) + v * (c - a)
    return d + (1.0 - u) * (c - d) + (1.0 - v) * (b - d)


@njit(cache=True, inline="always")
def _lay(plate, turn, row, x, y, z, nx, ny, nz):  # type: ignore[no-untyped-def]
    """One plate with a normal; the shortest turn from z to it."""
    plate[row, 0], plate[row, 1], plate[row, 2] = x, y, z
    nz = max(nz, -0.999)
    size = sqrt(2.0 * (1.0 + nz))
    turn[row, 0] = 0.5 * size
    turn[row, 1], turn[row, 2], turn[row, 3] = -ny / size, nx / size, 0.0


@njit(cache=True, inline="always")
def _nearest(px, py, pz, s, rise_x, rise_y):  # type: ignore[no-untyped-def]
    """Shares of the legs of a triangle (see `_ask`) at its point nearest to p.

    Source: regions of the triangle after Ericson, Real-Time Collision Detection (2005),
    sec. 5.1.5; written for one corner at the origin.
    """
    d1 = s * px + rise_x * pz
    d2 = s * py + rise_y * pz
    if d1 <= 0.0 and d2 <= 0.0:
        return 0.0, 0.0
    aa = s * s + rise_x * rise_x
    bb = s * s + rise_y * rise_y
    ab = rise_x * rise_y
    d3, d4 = d1 - aa, d2 - ab
    if d3 >= 0.0 and d4 <= d3:
        return 1.0, 0.0
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        return d1 / aa, 0.0
    d5, d6 = d1 - ab, d2 - bb
    if d6 >= 0.0 and d5 <= d6:
        return 0.0, 1.0
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        return 0.0, d2 / bb
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and d4 - d3 >= 0.0 and d5 - d6 >= 0.0:
        w = (d4 - d3) / ((d4 - d3) + (d5 - d6))
        return 1.0 - w, w
    total = va + vb + vc
    return vb / total, vc / total
