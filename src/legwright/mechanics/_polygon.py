"""Kernel: convex hull of a few stance feet, and distances to its edges."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
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


@njit(cache=True)
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


@njit(cache=True)
def margins(across, along, points, contact):  # type: ignore[no-untyped-def]
    """`margin` of many samples.

    Args:
        across: (T, L) first plane coordinate of the feet.
        along: (T, L) second plane coordinate of the feet.
        points: (T, 2) plane coordinates of the points; NaN gives -inf.
        contact: (T, L) feet that stand.

    Returns:
        (T,) margins.
    """
    T, L = contact.shape
    found = np.empty(T)
    x, y = np.empty(L), np.empty(L)
    order = np.empty(2 * L + 1, dtype=np.int64)
    for t in range(T):
        n = 0
        for leg in range(L):
            if contact[t, leg]:
                x[n], y[n] = across[t, leg], along[t, leg]
                n += 1
        if np.isnan(points[t, 0]):
            found[t] = -np.inf
        else:
            found[t] = margin(x[:n], y[:n], points[t, 0], points[t, 1], order)
    return found
