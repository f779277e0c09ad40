"""Kernels: least possible distances of shapes, from spheres, capsules and boxes around them."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within


@within
def _clipped(value):  # type: ignore[no-untyped-def]
    return min(max(value, -1.0), 1.0)


@within
def segments(x, y, z, one, two):  # type: ignore[no-untyped-def]
    """Distance of two segments: from centre to centre (x, y, z), half axes ``one``, ``two``.

    Source: Ericson, Real-Time Collision Detection (2005), sec. 5.1.9 (from memory).
    """
    a = max(one[0] * one[0] + one[1] * one[1] + one[2] * one[2], 1e-18)
    e = max(two[0] * two[0] + two[1] * two[1] + two[2] * two[2], 1e-18)
    b = one[0] * two[0] + one[1] * two[1] + one[2] * two[2]
    c, f = one[0] * x + one[1] * y + one[2] * z, two[0] * x + two[1] * y + two[2] * z
    s = _clipped((b * f - c * e) / max(a * e - b * b, 1e-18 * a * e + 1e-36))
    u = _clipped((b * s + f) / e)
    s = _clipped((b * u - c) / a)
    x, y, z = x + s * one[0] - u * two[0], y + s * one[1] - u * two[1], z + s * one[2] - u * two[2]
    return math.sqrt(x * x + y * y + z * z)


@within
def boxes(x, y, z, turn, t, one, two, half, R):  # type: ignore[no-untyped-def]
    """The widest gap between two boxes along the axes that can part them; negative where none.

    From centre to centre (x, y, z); in pose t of ``turn`` (T, G, 9) boxes one and two of
    ``half`` (G, 3), half their sizes; ``R`` (3, 3) is room. Boxes are at least so far apart.

    Source: the fifteen separating axes, Gottschalk, Lin and Manocha 1996 (from memory).
    """
    gap = -math.inf
    for i in range(3):
        c, f, h = turn[t, one, i], turn[t, one, 3 + i], turn[t, one, 6 + i]
        held = half[one, i]
        for j in range(3):
            R[i, j] = c * turn[t, two, j] + f * turn[t, two, 3 + j] + h * turn[t, two, 6 + j]
            held += half[two, j] * abs(R[i, j])
        gap = max(gap, abs(c * x + f * y + h * z) - held)
    for j in range(3):
        held = half[two, j]
        for i in range(3):
            held += half[one, i] * abs(R[i, j])
        along = turn[t, two, j] * x + turn[t, two, 3 + j] * y + turn[t, two, 6 + j] * z
        gap = max(gap, abs(along) - held)
    for i in range(3):
        i1, i2 = (i + 1) % 3, (i + 2) % 3
        a = turn[t, one, i1] * x + turn[t, one, 3 + i1] * y + turn[t, one, 6 + i1] * z
        b = turn[t, one, i2] * x + turn[t, one, 3 + i2] * y + turn[t, one, 6 + i2] * z
        for j in range(3):
            square = 1.0 - R[i, j] * R[i, j]
            if square < 1e-6:
                continue  # two edges that are all but parallel
            j1, j2 = (j + 1) % 3, (j + 2) % 3
            held = half[one, i1] * abs(R[i2, j]) + half[one, i2] * abs(R[i1, j])
            held += half[two, j1] * abs(R[i, j2]) + half[two, j2] * abs(R[i, j1])
            gap = max(gap, (abs(b * R[i1, j] - a * R[i2, j]) - held) / math.sqrt(square))
    return gap


@kernel
def closest(centre, pairs, reach, step):  # type: ignore[no-untyped-def]
    """Pose and pair of balls (P, 2) that come closest, centres (T, G, 3), radii ``reach`` (G,).

    Every ``step``-th pose is looked at.
    """
    best, at, which = math.inf, 0, 0
    for t in range(0, centre.shape[0], step):
        for p in range(pairs.shape[0]):
            a, b = pairs[p, 0], pairs[p, 1]
            x = centre[t, a, 0] - centre[t, b, 0]
            y = centre[t, a, 1] - centre[t, b, 1]
            z = centre[t, a, 2] - centre[t, b, 2]
            held = best + reach[a] + reach[b]
            square = x * x + y * y + z * z
            if held > 0.0 and square < held * held:
                best, at, which = math.sqrt(square) - (reach[a] + reach[b]), t, p
    return at, which


@kernel
def near(centre, turn, pairs, reach, axis, radius, middle, half, enough):  # type: ignore[no-untyped-def]
    """Pairs of shapes that may be no farther apart than ``enough`` in a pose.

    Args:
        centre: (T, G, 3) of the shapes.
        turn: (T, G, 9) their orientations, row by row.
        pairs: (P, 2)
        reach: (G,) of the ball around each shape.
        axis: (G, 3) half the axis of the capsule around each shape, in its frame.
        radius: (G,) of that capsule.
        middle: (G, 3) of the box around each shape, in its frame.
        half: (G, 3) half its size.
        enough: [m]

    Returns:
        Poses (N,), pairs (N,) and least possible distances (N,).
    """
    at, which, bound = np.empty(256, np.int64), np.empty(256, np.int64), np.empty(256)
    R, count = np.empty((3, 3)), 0
    for t in range(centre.shape[0]):
        for p in range(pairs.shape[0]):
            one, two = pairs[p, 0], pairs[p, 1]
            x = centre[t, one, 0] - centre[t, two, 0]
            y = centre[t, one, 1] - centre[t, two, 1]
            z = centre[t, one, 2] - centre[t, two, 2]
            held = enough + reach[one] + reach[two]
            if held < 0.0 or x * x + y * y + z * z > held * held:
                continue
            low = segments(x, y, z, seen(turn, t, one, axis), seen(turn, t, two, axis))
            low -= radius[one] + radius[two]
            if low > enough:
                continue
            m, n = seen(turn, t, one, middle), seen(turn, t, two, middle)
            x, y, z = x + m[0] - n[0], y + m[1] - n[1], z + m[2] - n[2]
            low = max(low, boxes(x, y, z, turn, t, one, two, half, R))
            if low > enough:
                continue
            if count == len(at):
                at, which, bound = doubled(at), doubled(which), doubled(bound)
            at[count], which[count], bound[count] = t, p, low
            count += 1
    return at[:count], which[:count], bound[:count]


@within
def seen(turn, t, g, rows):  # type: ignore[no-untyped-def]
    """Row g of ``rows`` (G, 3), out of the frame of shape g in pose t of ``turn`` (T, G, 9)."""
    a, b, c = rows[g, 0], rows[g, 1], rows[g, 2]
    return (
        turn[t, g, 0] * a + turn[t, g, 1] * b + turn[t, g, 2] * c,
        turn[t, g, 3] * a + turn[t, g, 4] * b + turn[t, g, 5] * c,
        turn[t, g, 6] * a + turn[t, g, 7] * b + turn[t, g, 8] * c,
    )


@within
def doubled(values):  # type: ignore[no-untyped-def]
    """An array with room for twice as many."""
    wider = np.empty(2 * len(values), values.dtype)
    for i in range(len(values)):
        wider[i] = values[i]
    return wider
