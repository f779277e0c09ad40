"""Kernel: one sample of a candidate layout: legs placed, the robot balanced, joints loaded."""

from __future__ import annotations

import math

from numba import njit

from legwright.fabrication._layout_leg import MASS, place, torques

GRAVITY = 9.80665


@njit(cache=True)
def shares(x, y, count, px, py, weight, out, idle):  # type: ignore[no-untyped-def]
    """Upward forces of level feet that carry a weight over (px, py) with the least squares.

    Feet that would have to pull are taken out, the worst first.

    Args:
        x: (n,) feet [m].
        y: (n,) feet [m].
        count: How many of them.
        px: Centre of mass [m].
        py: Centre of mass [m].
        weight: [N]
        out: (n,) filled [N].
        idle: (n,) scratch.

    Source: pseudo-inverse of the balance of force and two moments, textbook.
    """
    for i in range(count):
        idle[i] = 0.0
    for _ in range(count):
        n, mx, my = 0, 0.0, 0.0
        for i in range(count):
            if idle[i] == 0.0:
                n, mx, my = n + 1, mx + x[i], my + y[i]
        if n == 0:
            return
        mx, my = mx / n, my / n
        xx, xy, yy = 0.0, 0.0, 0.0
        for i in range(count):
            if idle[i] == 0.0:
                dx, dy = x[i] - mx, y[i] - my
                xx, xy, yy = xx + dx * dx, xy + dx * dy, yy + dy * dy
        det = xx * yy - xy * xy
        bx = by = 0.0
        if det > 1e-12 * (xx + yy) ** 2:
            ex, ey = weight * (px - mx), weight * (py - my)
            bx, by = (yy * ex - xy * ey) / det, (xx * ey - xy * ex) / det
        worst, least = -1, -1e-9 * weight
        for i in range(count):
            out[i] = 0.0
            if idle[i] == 0.0:
                out[i] = weight / n + bx * (x[i] - mx) + by * (y[i] - my)
                if out[i] < least:
                    worst, least = i, out[i]
        if worst < 0 or n <= 3:
            return
        idle[worst] = 1.0


@njit(cache=True)
def rim(x, y, count, px, py):  # type: ignore[no-untyped-def]
    """Static stability margin: distance from (px, py) to the rim of the feet's convex hull.

    Args:
        x: (n,) feet [m].
        y: (n,) feet [m].
        count: How many of them.
        px: Centre of mass [m].
        py: Centre of mass [m].

    Returns:
        [m]; negative outside, never positive where the feet span no area, -inf without feet.

    Source: McGhee & Frank, Mathematical Biosciences 3:331-351, 1968; a pair of feet is an edge
        where all others lie on one side of it.
    """
    inside, edges, nearest = True, 0, math.inf
    for i in range(count):
        for j in range(count):
            ex, ey = x[j] - x[i], y[j] - y[i]
            length = ex * ex + ey * ey
            if i == j or length == 0.0:
                continue
            outer = True
            for k in range(count):
                if ex * (y[k] - y[i]) - ey * (x[k] - x[i]) < -1e-12:
                    outer = False
                    break
            if not outer:
                continue
            edges += 1
            dx, dy = px - x[i], py - y[i]
            if ex * dy - ey * dx < 0.0:
                inside = False
            share = min(1.0, max(0.0, (ex * dx + ey * dy) / length))
            ax, ay = dx - share * ex, dy - share * ey
            nearest = min(nearest, ax * ax + ay * ay)
    if edges < 3:
        inside = False
        for i in range(count):
            nearest = min(nearest, (px - x[i]) ** 2 + (py - y[i]) ** 2)
    return math.sqrt(nearest) if inside else -math.sqrt(nearest)


@njit(cache=True)
def ringed(x, y, count, px, py):  # type: ignore[no-untyped-def]
    """The margin of `rim` where feet in their order go round a convex polygon that holds (px, py).

    Args:
        x: (n,) feet [m].
        y: (n,) feet [m].
        count: How many of them.
        px: Centre of mass [m].
        py: Centre of mass [m].

    Returns:
        [m]; -1 where that is not so. All turns to one side, and edges that turn back along x
        twice: once round, so the polygon is the hull.
    """
    if count < 3:
        return -1.0
    nearest, back = math.inf, 0
    ux, uy = x[0] - x[count - 1], y[0] - y[count - 1]
    for i in range(count):
        j = i + 1 if i + 1 < count else 0
        vx, vy = x[j] - x[i], y[j] - y[i]
        length = vx * vx + vy * vy
        inward = vx * (py - y[i]) - vy * (px - x[i])
        if length == 0.0 or inward <= 0.0 or ux * vy - uy * vx <= 0.0:
            return -1.0
        if (ux < 0.0) != (vx < 0.0):
            back += 1
        nearest = min(nearest, inward * inward / length)
        ux, uy = vx, vy
    return math.sqrt(nearest) if back == 2 else -1.0


@njit(cache=True)
def load(rows, trunk, stands, case, t, around, placed, torque, buffer):  # type: ignore[no-untyped-def]
    """Balances a robot whose legs are placed, and loads its joints.

    Args:
        rows: (L, ROW)
        trunk: (4,)
        stands: (C, T, L)
        case: Which case.
        t: Which sample.
        around: (L,) legs in the order in which their feet go round, from above to the left.
        placed: (L, PLACED)
        torque: (L, 3), filled [N·m].
        buffer: (4, L), scratch.

    Returns:
        Static stability margin [m].
    """
    legs = rows.shape[0]
    mass, mx, my = trunk[0], trunk[1], trunk[2]
    count = 0
    for at in range(legs):
        leg = around[at]
        for k in range(3):
            m = rows[leg, MASS + 4 * k]
            mass += m
            mx, my = mx + m * placed[leg, 25 + 3 * k], my + m * placed[leg, 26 + 3 * k]
        if stands[case, t, leg]:
            buffer[0, count], buffer[1, count] = placed[leg, 6], placed[leg, 7]
            count += 1
    px, py = mx / mass, my / mass
    x, y = buffer[0], buffer[1]
    least = ringed(x, y, count, px, py)
    if least < 0.0:
        least = rim(x, y, count, px, py)
    shares(x, y, count, px, py, mass * GRAVITY, buffer[2], buffer[3])
    count = 0
    for at in range(legs):
        leg, push = around[at], 0.0
        if stands[case, t, leg]:
            push = buffer[2, count]
            count += 1
        torques(rows, placed, leg, push, GRAVITY, torque)
    return least


@njit(cache=True)
def stand(rows, trunk, feet, stands, t, around, placed, torque, buffer):  # type: ignore[no-untyped-def]
    """One sample: places the legs, balances the robot, loads the joints.

    Args:
        rows: (L, ROW)
        trunk: (4,)
        feet: (L, 3) in the body frame [m].
        stands: (1, T, L)
        t: Which sample.
        around: (L,); see `load`.
        placed: (L, PLACED), filled.
        torque: (L, 3), filled [N·m].
        buffer: (4, L), scratch.

    Returns:
        Least joint gap [rad] and static stability margin [m].
    """
    gap = math.inf
    for leg in range(rows.shape[0]):
        p = feet[leg]
        gap = min(gap, place(rows[leg], p[0], p[1], p[2], placed[leg]))
        if gap <= -10.0:
            return gap, 0.0
    return gap, load(rows, trunk, stands, 0, t, around, placed, torque, buffer)
