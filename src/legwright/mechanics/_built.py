"""Kernels: where the feet of legs lie that are built with deviations, and what they stand on."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.mechanics._vectors import cross, plus, row, times

BLOCK = 256
"""Built legs that are moved at a time; what they need stays near the processor."""
SMALL = 0.01
"""Squared angle up to which a turn is reckoned by its series, exact to rounding [rad²]."""


@within
def _turned(w, p):  # type: ignore[no-untyped-def]
    """Point ``p`` turned by the rotation vector ``w`` (Rodrigues)."""
    square = w[0] * w[0] + w[1] * w[1] + w[2] * w[2]
    if square < SMALL:
        x = square
        first = 1.0 - x / 6.0 * (1.0 - x / 20.0 * (1.0 - x / 42.0 * (1.0 - x / 72.0)))
        second = 0.5 - x / 24.0 * (1.0 - x / 30.0 * (1.0 - x / 56.0 * (1.0 - x / 90.0)))
    else:
        angle = math.sqrt(square)
        first, half = math.sin(angle) / angle, math.sin(0.5 * angle) / angle
        second = 2.0 * half * half
    once = cross(w, p)
    return plus(p, plus(times(once, first), times(cross(w, once), second)))


@within
def _carried(turns, shifts, i, p):  # type: ignore[no-untyped-def]
    """Point ``p`` out of frame ``i``, given by a rotation matrix (9,) and a shift (3,)."""
    return (
        turns[i, 0] * p[0] + turns[i, 1] * p[1] + turns[i, 2] * p[2] + shifts[i, 0],
        turns[i, 3] * p[0] + turns[i, 4] * p[1] + turns[i, 5] * p[2] + shifts[i, 1],
        turns[i, 6] * p[0] + turns[i, 7] * p[1] + turns[i, 8] * p[2] + shifts[i, 2],
    )


@kernel
def built_feet(  # type: ignore[no-untyped-def]
    draws, low, span, way, joint, direction, seat_turns, seats, move_turns, moves, foot, out
):
    """Foot points of built legs.

    Args:
        draws: (P, N) one row a deviation; leg n deviates by low + span times its draw.
        low: (P,) [m or rad]
        span: (P,) [m or rad]
        way: (P,) 0: shifts a joint, or the foot, in the frame before it; 1: shifts, 2: turns what
            a joint carries, in its own frame.
        joint: (P,) which joint; M for the foot.
        direction: (P, 3)
        seat_turns: (M, 9) orientations of the joint frames in the frames before them.
        seats: (M, 3) their places.
        move_turns: (M, 9) of the joints' motions.
        moves: (M, 3)
        foot: (3,) in the last joint's frame.
        out: (N, 3), filled.
    """
    P, N = draws.shape
    M = seats.shape[0]
    off = np.empty((M + 1, 3, 3, BLOCK))
    for start in range(0, N, BLOCK):
        count = min(BLOCK, N - start)
        for i in range(M + 1):
            for w in range(3):
                for k in range(3):
                    own = off[i, w, k]
                    for n in range(count):
                        own[n] = 0.0
        for one in range(P):
            for k in range(3):
                along = direction[one, k]
                if along == 0.0:
                    continue
                own, draw = off[joint[one], way[one], k], draws[one, start : start + count]
                least, wide = low[one] * along, span[one] * along
                for n in range(count):
                    own[n] += least + wide * draw[n]
        for n in range(count):
            p = (foot[0] + off[M, 0, 0, n], foot[1] + off[M, 0, 1, n], foot[2] + off[M, 0, 2, n])
            for i in range(M - 1, -1, -1):
                p = _carried(move_turns, moves, i, p)
                p = _turned((off[i, 2, 0, n], off[i, 2, 1, n], off[i, 2, 2, n]), p)
                p = plus(p, (off[i, 1, 0, n], off[i, 1, 1, n], off[i, 1, 2, n]))
                p = _carried(seat_turns, seats, i, p)
                p = plus(p, (off[i, 0, 0, n], off[i, 0, 1, n], off[i, 0, 2, n]))
            for k in range(3):
                out[start + n, k] = p[k]


@kernel
def stood(built, com, tiny, slopes, level):  # type: ignore[no-untyped-def]
    """The planes z = s·(x, y) + c that robots stand on.

    Args:
        built: (N, L, 3) foot points.
        com: (2,) centre of mass in plan.
        tiny: Twice the area of a triangle of feet below which it bears nothing [m²].
        slopes: (N, 2), filled; nan where the centre of mass stands over no feet.
        level: (N,), filled.
    """
    N, L = built.shape[0], built.shape[1]
    last = (0, 1, 2)  # what bore the robot before likely bears this one too
    for n in range(N):
        slopes[n, 0], slopes[n, 1], level[n] = math.nan, math.nan, math.nan
        feet = built[n]
        if _bears(feet, last, com, tiny, slopes[n], level, n):
            continue
        for i in range(L - 2):
            for j in range(i + 1, L - 1):
                for k in range(j + 1, L):
                    if level[n] != level[n] and _bears(
                        feet, (i, j, k), com, tiny, slopes[n], level, n
                    ):
                        last = (i, j, k)


@within
def _bears(feet, three, com, tiny, slope, level, n):  # type: ignore[no-untyped-def]
    """Whether a robot stands on three feet; fills its plane."""
    a, b, c = row(feet, three[0]), row(feet, three[1]), row(feet, three[2])
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    det = ux * vy - uy * vx
    if not abs(det) > tiny:
        return False
    wx, wy = com[0] - a[0], com[1] - a[1]
    first, second = (wx * vy - wy * vx) / det, (ux * wy - uy * wx) / det
    if first < -1e-9 or second < -1e-9 or first + second > 1.0 + 1e-9:
        return False
    uz, vz = b[2] - a[2], c[2] - a[2]
    sx, sy = (uz * vy - uy * vz) / det, (ux * vz - uz * vx) / det
    at = a[2] - sx * a[0] - sy * a[1]
    for leg in range(feet.shape[0]):
        if feet[leg, 2] - (sx * feet[leg, 0] + sy * feet[leg, 1] + at) < -1e-9:
            return False
    slope[0], slope[1], level[n] = sx, sy, at
    return True
