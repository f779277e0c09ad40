"""Kernel: convex hull of a few stance feet, and distances to its edges."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel


@kernel
def hull(x, y, order):  # type: ignore[no-untyped-def]
    """Corners of the convex hull of few points, counter-clockwise.

    Args:
        x: (n,) plane coordinates.
        y: (n,) plane coordinates.
        order: (2n + 1,) integers; the first entries become the corners' indices.

    Returns:
        Number of corners; points on an edge are no corners, coinciding points count once.

    Source: monotone chain, Andrew 1979 (from memory); shapely is the referee in the tests.
    """
    n = x.shape[0]
    ranked = np.empty(n, dtype=np.int64)
    for i in range(n):  # insertion sort by x, then y
        j = i
        while j > 0 and (
            x[ranked[j - 1]] > x[i] or (x[ranked[j - 1]] == x[i] and y[ranked[j - 1]] > y[i])
        ):
            ranked[j] = ranked[j - 1]
            j -= 1
        ranked[j] = i
    size = 0.0
    for i in range(n):
        size = max(size, abs(x[i] - x[0]), abs(y[i] - y[0]))
    flat = 1e-12 * size * size
    count = 0
    for turn in range(2):
        least = count if turn else 1
        for step in range(1 if turn else 0, n):
            c = ranked[n - 1 - step] if turn else ranked[step]
            while count > least:
                a, b = order[count - 2], order[count - 1]
                area = (x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a])
                if area > flat:
                    break
                count -= 1
            order[count] = c
            count += 1
    if n > 1:
        count -= 1  # the first corner came round again
    if count == 2 and x[order[0]] == x[order[1]] and y[order[0]] == y[order[1]]:
        count = 1
    return count


@kernel
def margin(x, y, px, py, order):  # type: ignore[no-untyped-def]
    """Distance from (px, py) to the rim of the points' convex hull; negative outside it.

    A segment or a single point has no inside: the distance counts as negative. -inf without
    points.
    """
    n = x.shape[0]
    if n == 0:
        return -np.inf
    count = hull(x, y, order)
    inside, nearest = count >= 3, np.inf
    for i in range(count):
        a, b = order[i], order[(i + 1) % count]
        ex, ey = x[b] - x[a], y[b] - y[a]
        dx, dy = px - x[a], py - y[a]
        if ex * dy - ey * dx < 0.0:
            inside = False
        length = ex * ex + ey * ey
        share = 0.0 if length == 0.0 else min(1.0, max(0.0, (ex * dx + ey * dy) / length))
        nearest = min(nearest, np.hypot(dx - share * ex, dy - share * ey))
    return nearest if inside else -nearest


@kernel
def level_axes(g):  # type: ignore[no-untyped-def]
    """Two axes of the horizontal plane, x laid into it and the one to its left; ``g`` (3,).

    Where x is vertical, y is laid into it. See `balance.horizontal`.
    """
    size = math.sqrt(g[0] * g[0] + g[1] * g[1] + g[2] * g[2])
    ux, uy, uz = -g[0] / size, -g[1] / size, -g[2] / size
    if abs(ux) > 1.0 - 1e-9:
        ax, ay, az = -uy * ux, 1.0 - uy * uy, -uy * uz
    else:
        ax, ay, az = 1.0 - ux * ux, -ux * uy, -ux * uz
    length = math.sqrt(ax * ax + ay * ay + az * az)
    ax, ay, az = ax / length, ay / length, az / length
    return (ax, ay, az), (uy * az - uz * ay, uz * ax - ux * az, ux * ay - uy * ax)


@kernel
def stance_margins(feet, com, gravity, contact):  # type: ignore[no-untyped-def]
    """`margin` of the centre of mass over the stance feet, seen along gravity.

    Args:
        feet: (T, L, 3) foot points.
        com: (T, 3); NaN gives -inf.
        gravity: (T, 3) or (1, 3), longer than 0.
        contact: (T, L) feet that stand.

    Returns:
        (T,) margins.
    """
    T, L = contact.shape
    found = np.empty(T)
    x, y = np.empty(L), np.empty(L)
    order = np.empty(2 * L + 1, dtype=np.int64)
    for t in range(T):
        a, b = level_axes(gravity[t if gravity.shape[0] > 1 else 0])
        n = 0
        for leg in range(L):
            if contact[t, leg]:
                p = feet[t, leg]
                x[n] = p[0] * a[0] + p[1] * a[1] + p[2] * a[2]
                y[n] = p[0] * b[0] + p[1] * b[1] + p[2] * b[2]
                n += 1
        px = com[t, 0] * a[0] + com[t, 1] * a[1] + com[t, 2] * a[2]
        py = com[t, 0] * b[0] + com[t, 1] * b[1] + com[t, 2] * b[2]
        found[t] = -np.inf if np.isnan(px) else margin(x[:n], y[:n], px, py, order)
    return found
