"""Kernel: where the ground touches each foot.

The engine would meet a height field triangle by triangle, each with a spring of its own, so
that a foot on a seam would stand on twice the stiffness. Instead every foot has two plates of
its own that lie tangent to the ground where it is nearest: one contact, one spring. The second
plate serves inner corners, where floor and wall both touch.
"""

from __future__ import annotations

from math import floor, sqrt

from numba import njit

AWAY = -1000.0
"""Where unused plates lie [m]."""

MARGIN = 0.003
"""A plate is laid ready when the foot is this near [m]."""

SAME_FACE = 0.87
"""Plates whose normals differ by less than 30° are one."""

GENTLE = 0.5
"""Where slopes around a foot differ by less than this, there is no inner corner to look for."""


@njit(cache=True)
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
        plate: Positions of the plates, (2 L, 3); changed.
        turn: Their quaternions, whose z axis is the normal, (2 L, 4); changed.
    """
    rows, columns = heights.shape
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
        best, bx, by, bz, nx, ny, nz = reach, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0
        other, ox, oy, oz, mx, my, mz = reach, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0
        low_x, high_x, low_y, high_y = 1e9, -1e9, 1e9, -1e9
        for sweep in range(2):
            bend = max(high_x - low_x, high_y - low_y)
            if sweep == 1 and (best >= reach or bend < GENTLE * spacing):
                break
            for i in range(i0, i1 + 1):
                for j in range(j0, j1 + 1):
                    a, b = heights[i, j], heights[i + 1, j]
                    c, d = heights[i, j + 1], heights[i + 1, j + 1]
                    if max(a, b, c, d) < z - reach:
                        continue
                    low_x, high_x = min(low_x, b - a, d - c), max(high_x, b - a, d - c)
                    low_y, high_y = min(low_y, c - a, d - b), max(high_y, c - a, d - b)
                    ux, uy = x0 + spacing * i, y0 + spacing * j
                    for half in range(2):
                        if half == 0:
                            ax, ay, az = ux, uy, a
                            e1x, e1y, e1z = spacing, 0.0, b - a
                            e2x, e2y, e2z = 0.0, spacing, c - a
                        else:
                            ax, ay, az = ux + spacing, uy + spacing, d
                            e1x, e1y, e1z = -spacing, 0.0, c - d
                            e2x, e2y, e2z = 0.0, -spacing, b - d
                        v, w = _nearest(
                            px - ax, py - ay, z - az, e1x, e1y, e1z, e2x, e2y, e2z
                        )  # fmt: skip
                        cx = ax + v * e1x + w * e2x
                        cy = ay + v * e1y + w * e2y
                        cz = az + v * e1z + w * e2z
                        dx, dy, dz = px - cx, py - cy, z - cz
                        gap = sqrt(dx * dx + dy * dy + dz * dz)
                        fx = e1y * e2z - e1z * e2y
                        fy = e1z * e2x - e1x * e2z
                        fz = e1x * e2y - e1y * e2x
                        size = sqrt(fx * fx + fy * fy + fz * fz)
                        fx, fy, fz = fx / size, fy / size, fz / size
                        side = dx * fx + dy * fy + dz * fz
                        if gap < 1e-9:
                            dx, dy, dz, gap = fx, fy, fz, 1.0
                            signed = 0.0
                        elif side < 0.0:  # the centre lies in the ground
                            dx, dy, dz, signed = -dx, -dy, -dz, -gap
                        else:
                            signed = gap
                        dx, dy, dz = dx / gap, dy / gap, dz / gap
                        if sweep == 0:
                            if abs(signed) < abs(best):
                                best, bx, by, bz = signed, cx, cy, cz
                                nx, ny, nz = dx, dy, dz
                        elif (
                            abs(signed) < abs(other)
                            and dx * fx + dy * fy + dz * fz > 0.99
                            and dx * nx + dy * ny + dz * nz < SAME_FACE
                        ):
                            other, ox, oy, oz = signed, cx, cy, cz
                            mx, my, mz = dx, dy, dz
        if best < reach:
            _lay(plate, turn, 2 * f, bx + x - px, by + y - py, bz, nx, ny, nz)
        else:
            _lay(plate, turn, 2 * f, x, y, AWAY, 0.0, 0.0, 1.0)
        if other < reach:
            _lay(plate, turn, 2 * f + 1, ox + x - px, oy + y - py, oz, mx, my, mz)
        else:
            _lay(plate, turn, 2 * f + 1, x, y, AWAY, 0.0, 0.0, 1.0)


@njit(cache=True, inline="always")
def _lay(plate, turn, row, x, y, z, nx, ny, nz):  # type: ignore[no-untyped-def]
    """One plate with a normal; the shortest turn from z to it."""
    plate[row, 0], plate[row, 1], plate[row, 2] = x, y, z
    nz = max(nz, -0.999)
    size = sqrt(2.0 * (1.0 + nz))
    turn[row, 0] = 0.5 * size
    turn[row, 1], turn[row, 2], turn[row, 3] = -ny / size, nx / size, 0.0


@njit(cache=True, inline="always")
def _nearest(px, py, pz, ax, ay, az, bx, by, bz):  # type: ignore[no-untyped-def]
    """Shares of the edges a and b at the point of a triangle that is nearest to p.

    Source: regions of the triangle after Ericson, Real-Time Collision Detection (2005),
    sec. 5.1.5; written for one corner at the origin.
    """
    d1 = ax * px + ay * py + az * pz
    d2 = bx * px + by * py + bz * pz
    if d1 <= 0.0 and d2 <= 0.0:
        return 0.0, 0.0
    aa = ax * ax + ay * ay + az * az
    bb = bx * bx + by * by + bz * bz
    ab = ax * bx + ay * by + az * bz
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
