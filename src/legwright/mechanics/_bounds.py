"""Kernels: least possible distances of shapes, from spheres, capsules and boxes around them."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.mechanics._recursion import out_of


@kernel
def spheres(centre, pairs, reach, out):  # type: ignore[no-untyped-def]
    """Least possible distances ``out`` (T, P) of pairs (P, 2) of balls.

    Their centres are (T, G, 3), their radii ``reach`` (G,).
    """
    for t in range(centre.shape[0]):
        for p in range(pairs.shape[0]):
            a, b = pairs[p, 0], pairs[p, 1]
            x = centre[t, a, 0] - centre[t, b, 0]
            y = centre[t, a, 1] - centre[t, b, 1]
            z = centre[t, a, 2] - centre[t, b, 2]
            out[t, p] = math.sqrt(x * x + y * y + z * z) - (reach[a] + reach[b])


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
def boxes(x, y, z, A, B, a, b, R):  # type: ignore[no-untyped-def]
    """The widest gap between two boxes along the axes that can part them; negative where none.

    From centre to centre (x, y, z), orientations ``A``, ``B`` (9,) row by row, half sizes ``a``,
    ``b`` (3,); ``R`` (3, 3) is room. Boxes are at least so far apart.

    Source: the fifteen separating axes, Gottschalk, Lin and Manocha 1996 (from memory).
    """
    for i in range(3):
        for j in range(3):
            R[i, j] = A[i] * B[j] + A[3 + i] * B[3 + j] + A[6 + i] * B[6 + j]
    t = (
        A[0] * x + A[3] * y + A[6] * z,
        A[1] * x + A[4] * y + A[7] * z,
        A[2] * x + A[5] * y + A[8] * z,
    )
    gap = -math.inf
    for i in range(3):
        held = a[i] + b[0] * abs(R[i, 0]) + b[1] * abs(R[i, 1]) + b[2] * abs(R[i, 2])
        gap = max(gap, abs(t[i]) - held)
    for j in range(3):
        held = b[j] + a[0] * abs(R[0, j]) + a[1] * abs(R[1, j]) + a[2] * abs(R[2, j])
        gap = max(gap, abs(t[0] * R[0, j] + t[1] * R[1, j] + t[2] * R[2, j]) - held)
    for i in range(3):
        i1, i2 = (i + 1) % 3, (i + 2) % 3
        for j in range(3):
            square = 1.0 - R[i, j] * R[i, j]
            if square < 1e-6:
                continue  # two edges that are all but parallel
            j1, j2 = (j + 1) % 3, (j + 2) % 3
            held = a[i1] * abs(R[i2, j]) + a[i2] * abs(R[i1, j])
            held += b[j1] * abs(R[i, j2]) + b[j2] * abs(R[i, j1])
            gap = max(gap, (abs(t[i2] * R[i1, j] - t[i1] * R[i2, j]) - held) / math.sqrt(square))
    return gap


@kernel
def tighter(centre, turn, at, pairs, axis, radius, middle, half, enough, out):  # type: ignore[no-untyped-def]
    """Least possible distances ``out`` (N,) of pair i (N, 2) in pose at[i].

    Args:
        centre: (T, G, 3) of the shapes.
        turn: (T, G, 9) their orientations, row by row.
        at: (N,)
        pairs: (N, 2)
        axis: (G, 3) half the axis of the capsule around each shape, in its frame.
        radius: (G,) of that capsule.
        middle: (G, 3) of the box around each shape, in its frame.
        half: (G, 3) half its size.
        enough: Larger bounds need not be as tight.
        out: (N,)
    """
    R = np.empty((3, 3))
    for i in range(at.shape[0]):
        t, one, two = at[i], pairs[i, 0], pairs[i, 1]
        A, B = turn[t, one], turn[t, two]
        x = centre[t, one, 0] - centre[t, two, 0]
        y = centre[t, one, 1] - centre[t, two, 1]
        z = centre[t, one, 2] - centre[t, two, 2]
        apart = segments(x, y, z, out_of(A, axis[one]), out_of(B, axis[two]))
        out[i] = apart - radius[one] - radius[two]
        if out[i] > enough:
            continue
        m, n = out_of(A, middle[one]), out_of(B, middle[two])
        x, y, z = x + m[0] - n[0], y + m[1] - n[1], z + m[2] - n[2]
        out[i] = max(out[i], boxes(x, y, z, A, B, half[one], half[two], R))
