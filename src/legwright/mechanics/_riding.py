"""Kernels: what rides on moving joints, placed pose by pose, and its lowest points."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.mechanics._recursion import about_z, matrix, out_of, product
from legwright.mechanics._vectors import plus, row, times

BALL, BLOCK, ROD, HULL = range(4)
"""Kinds of shapes: sphere, box, cylinder, hull of corners."""


@within
def _frames(packed, q, turns, places):  # type: ignore[no-untyped-def]
    """Orientations ``turns`` (M, 9) and places (M, 3) of all joint frames, body frame."""
    for leg in range(packed.foot.shape[0]):
        c0, n = packed.column[leg], packed.column[leg + 1] - packed.column[leg]
        F, p = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0), (0.0, 0.0, 0.0)
        for m in range(packed.first[leg], packed.first[leg + 1]):
            s = packed.offset[m]
            for k in range(n):
                s += packed.coupling[m, k] * q[c0 + k]
            p = plus(p, out_of(F, row(packed.shift, m)))
            F = product(F, matrix(packed.turn, m))
            if packed.slides[m]:
                p = plus(p, times((F[2], F[5], F[8]), s))
            else:
                F = about_z(F, s)
            for i in range(9):
                turns[m, i] = F[i]
            for i in range(3):
                places[m, i] = p[i]


@kernel
def ridden(packed, q, joint, turn, shift, centre, turned):  # type: ignore[no-untyped-def]
    """Place S things that ride on joints.

    Args:
        packed: The robot.
        q: (T, J)
        joint: (S,) the moving joint that carries each; -1: the trunk.
        turn: (S, 3, 3) orientations in the frames of the joints, see `Packed`.
        shift: (S, 3) places there.
        centre: Out, (T, S, 3) in the body frame.
        turned: Out, (T, S, 9) orientations, row by row.
    """
    turns, places = np.empty((packed.slides.shape[0], 9)), np.empty((packed.slides.shape[0], 3))
    for t in range(q.shape[0]):
        _frames(packed, q[t], turns, places)
        for s in range(joint.shape[0]):
            m = joint[s]
            R, p = matrix(turn, s), row(shift, s)
            if m >= 0:
                F = (
                    turns[m, 0], turns[m, 1], turns[m, 2],
                    turns[m, 3], turns[m, 4], turns[m, 5],
                    turns[m, 6], turns[m, 7], turns[m, 8],
                )  # fmt: skip
                p, R = plus(row(places, m), out_of(F, p)), product(F, R)
            for i in range(3):
                centre[t, s, i] = p[i]
            for i in range(9):
                turned[t, s, i] = R[i]


@kernel
def lowest(centre, turned, up, kind, size, first, corners, out):  # type: ignore[no-untyped-def]
    """Heights of the lowest points of S shapes.

    Args:
        centre: (T, S, 3)
        turned: (T, S, 9)
        up: (T, 3) unit vector upwards.
        kind: (S,) `BALL`, `BLOCK`, `ROD` or `HULL`.
        size: (S, 3) radius; edges; radius and length along z.
        first: (S + 1,) hull s has the corners first[s] .. first[s + 1] - 1.
        corners: (C, 3) in the shapes' frames.
        out: (T, S) along ``up``, over the origin.
    """
    for t in range(centre.shape[0]):
        for s in range(kind.shape[0]):
            F, c = turned[t, s], centre[t, s]
            x = F[0] * up[t, 0] + F[3] * up[t, 1] + F[6] * up[t, 2]
            y = F[1] * up[t, 0] + F[4] * up[t, 1] + F[7] * up[t, 2]
            z = F[2] * up[t, 0] + F[5] * up[t, 1] + F[8] * up[t, 2]
            low = c[0] * up[t, 0] + c[1] * up[t, 1] + c[2] * up[t, 2]
            if kind[s] == BALL:
                low -= size[s, 0]
            elif kind[s] == BLOCK:
                low -= 0.5 * (abs(x) * size[s, 0] + abs(y) * size[s, 1] + abs(z) * size[s, 2])
            elif kind[s] == ROD:
                low -= 0.5 * abs(z) * size[s, 1] + size[s, 0] * math.sqrt(x * x + y * y)
            else:
                least = math.inf
                for k in range(first[s], first[s + 1]):
                    least = min(least, x * corners[k, 0] + y * corners[k, 1] + z * corners[k, 2])
                low += least
            out[t, s] = low
