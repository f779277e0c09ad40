"""Kernel: how near the legs of a candidate layout come to each other and to the trunk.

Arrays are taken whole, with the place in them: to cut a row out costs more than what is done
with it here.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

GIRTH = 11
"""Numbers that say how thick a leg is: 0-1 radius of femur and tibia; 2-7 the box around the
femur's link, least and greatest place along the femur, square to it and across; 8 length of the
femur that this box is told for; 9-10 how far the links reach from the lines of their segments."""
BOX = 21
"""Numbers of a box: axes row by row, centre, half edges; 15-20 least and greatest x, y, z."""


@njit(cache=True)
def girth_of(radius, beam, femur):  # type: ignore[no-untyped-def]
    """How thick legs are, (L, GIRTH) [m].

    Args:
        radius: (L, 3) of coxa, femur and tibia.
        beam: (L, 6) box around the femur's link.
        femur: (L,) length of the femur that it is told for.
    """
    girth = np.empty((beam.shape[0], GIRTH))
    for leg in range(girth.shape[0]):
        girth[leg, 0], girth[leg, 1] = radius[leg, 1], radius[leg, 2]
        girth[leg, 2:8], girth[leg, 8] = beam[leg], femur[leg]
        ends = max(0.0, -beam[leg, 0], beam[leg, 1] - femur[leg])
        across = max(-beam[leg, 2], beam[leg, 3]) + max(-beam[leg, 4], beam[leg, 5])
        girth[leg, 9], girth[leg, 10] = ends + across, radius[leg, 2]
    return girth


@njit(cache=True)
def bounded(boxes):  # type: ignore[no-untyped-def]
    """Boxes (B, 15) with the upright box around each, (B, BOX) [m]."""
    out = np.empty((boxes.shape[0], BOX))
    for p in range(boxes.shape[0]):
        out[p, :15] = boxes[p]
        for i in range(3):
            half = 0.0
            for k in range(3):
                half += abs(boxes[p, 3 * k + i]) * boxes[p, 12 + k]
            out[p, 15 + i], out[p, 18 + i] = boxes[p, 9 + i] - half, boxes[p, 9 + i] + half
    return out


@njit(cache=True)
def segment_gap(placed, one, i, two, j):  # type: ignore[no-untyped-def]
    """Least distance of two segments [m].

    Args:
        placed: (L, PLACED)
        one: A leg; its segment runs from the point at ``i`` to the next.
        i: 0 for the femur, 3 for the tibia.
        two: Another leg.
        j: As ``i``.

    Source: Ericson, Real-Time Collision Detection (2005), sec. 5.1.9 (from memory).
    """
    ax, ay, az = placed[one, i], placed[one, i + 1], placed[one, i + 2]
    bx, by, bz = placed[two, j], placed[two, j + 1], placed[two, j + 2]
    ux, uy, uz = placed[one, i + 3] - ax, placed[one, i + 4] - ay, placed[one, i + 5] - az
    vx, vy, vz = placed[two, j + 3] - bx, placed[two, j + 4] - by, placed[two, j + 5] - bz
    wx, wy, wz = ax - bx, ay - by, az - bz
    uu = max(ux * ux + uy * uy + uz * uz, 1e-18)
    vv = max(vx * vx + vy * vy + vz * vz, 1e-18)
    uv = ux * vx + uy * vy + uz * vz
    uw = ux * wx + uy * wy + uz * wz
    vw = vx * wx + vy * wy + vz * wz
    flat = uu * vv - uv * uv
    share = 0.0
    if flat > 1e-12 * uu * vv:
        share = min(1.0, max(0.0, (uv * vw - uw * vv) / flat))
    other = (uv * share + vw) / vv
    if other < 0.0:
        other = 0.0
        share = min(1.0, max(0.0, -uw / uu))
    elif other > 1.0:
        other = 1.0
        share = min(1.0, max(0.0, (uv - uw) / uu))
    x = wx + share * ux - other * vx
    y = wy + share * uy - other * vy
    z = wz + share * uz - other * vz
    return math.sqrt(x * x + y * y + z * z)


@njit(cache=True, inline="always")
def _out(at, half):  # type: ignore[no-untyped-def]
    """How far a coordinate lies outside a box of this half edge, with its sign; 0 inside."""
    if at > half:
        return at - half
    return at + half if at < -half else 0.0


@njit(cache=True)
def _slab_gap(a, b, c, x, y, z, u, v, w):  # type: ignore[no-untyped-def]
    """Least distance of a segment from a box, in the box's own axes [m]; 0 where they meet.

    Along the segment the squared distance is convex: its slope at the ends tells whether an end
    is nearest; else the place of the least is bisected.
    """
    ox, oy, oz = _out(x, a), _out(y, b), _out(z, c)
    if ox * u + oy * v + oz * w >= 0.0:
        return math.sqrt(ox * ox + oy * oy + oz * oz)
    ox, oy, oz = _out(x + u, a), _out(y + v, b), _out(z + w, c)
    if ox * u + oy * v + oz * w <= 0.0:
        return math.sqrt(ox * ox + oy * oy + oz * oz)
    low, high = 0.0, 1.0
    for _ in range(18):
        share = 0.5 * (low + high)
        ox, oy, oz = _out(x + share * u, a), _out(y + share * v, b), _out(z + share * w, c)
        if ox * u + oy * v + oz * w > 0.0:
            high = share
        else:
            low = share
    return math.sqrt(ox * ox + oy * oy + oz * oz)


@njit(cache=True, inline="always")
def _past(one, two, reach, half):  # type: ignore[no-untyped-def]
    """How far what reaches from ``one`` to ``two``, and as far around, lies outside -half…half."""
    low, high = min(one, two) - reach, max(one, two) + reach
    return max(0.0, low - half, -half - high)


@njit(cache=True)
def box_gap(boxes, p, placed, k, at, room):  # type: ignore[no-untyped-def]
    """Least distance of a segment from a box [m]; 0 where they meet.

    Args:
        boxes: (B, BOX)
        p: Which box.
        placed: (N, PLACED)
        k: Which placed leg; its segment runs from the point at ``at`` to the next.
        at: 0 for the femur, 3 for the tibia.
        room: A distance above this comes back as a bound from below that is above it too.
    """
    x, y, z = (
        placed[k, at] - boxes[p, 9],
        placed[k, at + 1] - boxes[p, 10],
        placed[k, at + 2] - boxes[p, 11],
    )
    u, v, w = (
        placed[k, at + 3] - placed[k, at],
        placed[k, at + 4] - placed[k, at + 1],
        placed[k, at + 5] - placed[k, at + 2],
    )
    x, y, z = _turned(boxes, p, x, y, z)
    u, v, w = _turned(boxes, p, u, v, w)
    a, b, c = boxes[p, 12], boxes[p, 13], boxes[p, 14]
    ox, oy, oz = _past(x, x + u, 0.0, a), _past(y, y + v, 0.0, b), _past(z, z + w, 0.0, c)
    least = ox * ox + oy * oy + oz * oz
    if room < 0.0 or least > room * room:
        return math.sqrt(least)
    return _slab_gap(a, b, c, x, y, z, u, v, w)


@njit(cache=True, inline="always")
def _turned(boxes, p, x, y, z):  # type: ignore[no-untyped-def]
    """A vector in a box's own axes."""
    return (
        boxes[p, 0] * x + boxes[p, 1] * y + boxes[p, 2] * z,
        boxes[p, 3] * x + boxes[p, 4] * y + boxes[p, 5] * z,
        boxes[p, 6] * x + boxes[p, 7] * y + boxes[p, 8] * z,
    )


@njit(cache=True)
def beam_gap(boxes, p, rows, girth, leg, placed, k, room):  # type: ignore[no-untyped-def]
    """Least distance of the long edges of the box around a femur's link from another box [m].

    Args:
        boxes: (B, BOX)
        p: Which box.
        rows: (L, ROW)
        girth: (L, GIRTH); the far end moves with the knee.
        leg: Which leg.
        placed: (N, PLACED)
        k: Which of them.
        room: A distance above this comes back as this.
    """
    femur = rows[leg, 18]
    start, length = girth[leg, 2], girth[leg, 3] - girth[leg, 8] + femur - girth[leg, 2]
    a, b, c = boxes[p, 12], boxes[p, 13], boxes[p, 14]
    x, y, z = _turned(
        boxes, p, placed[k, 0] - boxes[p, 9], placed[k, 1] - boxes[p, 10],
        placed[k, 2] - boxes[p, 11],
    )  # fmt: skip
    ux, uy, uz = _turned(
        boxes, p, (placed[k, 3] - placed[k, 0]) / femur, (placed[k, 4] - placed[k, 1]) / femur,
        (placed[k, 5] - placed[k, 2]) / femur,
    )  # fmt: skip
    x, y, z = x + start * ux, y + start * uy, z + start * uz
    ox, oy, oz = length * ux, length * uy, length * uz
    cx, cy, cz = _turned(boxes, p, placed[k, 9], placed[k, 10], placed[k, 11])
    nx, ny, nz = cy * uz - cz * uy, cz * ux - cx * uz, cx * uy - cy * ux
    wide, tall = max(-girth[leg, 6], girth[leg, 7]), max(-girth[leg, 4], girth[leg, 5])
    away = _past(x, x + ox, tall * abs(nx) + wide * abs(cx), a) ** 2
    away += _past(y, y + oy, tall * abs(ny) + wide * abs(cy), b) ** 2
    away += _past(z, z + oz, tall * abs(nz) + wide * abs(cz), c) ** 2
    least = room
    if least < 0.0 or away > least * least:
        return least
    for i in range(2):
        for j in range(2):
            square, across = girth[leg, 4 + i], girth[leg, 6 + j]
            px, py = x + square * nx + across * cx, y + square * ny + across * cy
            pz = z + square * nz + across * cz
            away = _past(px, px + ox, 0.0, a) ** 2
            away += _past(py, py + oy, 0.0, b) ** 2
            away += _past(pz, pz + oz, 0.0, c) ** 2
            if away <= least * least:
                least = min(least, _slab_gap(a, b, c, px, py, pz, ox, oy, oz))
    return least


@njit(cache=True)
def trunk_gap(boxes, looked, rows, girth, leg, placed, k, least):  # type: ignore[no-untyped-def]
    """Least gap of one placed leg from the trunk [m].

    Args:
        boxes: (B, BOX)
        looked: (B, L, 2) whether femur and tibia are measured against a box.
        rows: (L, ROW)
        girth: (L, GIRTH)
        leg: Which leg.
        placed: (N, PLACED)
        k: Which of them.
        least: Least so far; boxes that cannot come nearer are passed over.
    """
    for i in range(2):
        at = 3 * i
        x, u = min(placed[k, at], placed[k, at + 3]), max(placed[k, at], placed[k, at + 3])
        y, v = min(placed[k, at + 1], placed[k, at + 4]), max(placed[k, at + 1], placed[k, at + 4])
        z, w = min(placed[k, at + 2], placed[k, at + 5]), max(placed[k, at + 2], placed[k, at + 5])
        for p in range(boxes.shape[0]):
            near = max(0.0, least) + girth[leg, 9 + i]
            if (
                not looked[p, leg, i]
                or x > boxes[p, 18] + near
                or u < boxes[p, 15] - near
                or y > boxes[p, 19] + near
                or v < boxes[p, 16] - near
                or z > boxes[p, 20] + near
                or w < boxes[p, 17] - near
            ):
                continue
            if i == 0:
                least = beam_gap(boxes, p, rows, girth, leg, placed, k, least)
            else:
                room = girth[leg, 1]
                least = min(least, box_gap(boxes, p, placed, k, 3, least + room) - room)
    return least


@njit(cache=True)
def _beside(placed, one, two):  # type: ignore[no-untyped-def]
    """Least distance of two placed legs' segments along the line between their femur axes [m].

    Never more than their least distance; of legs that reach out side by side nearly as much.
    """
    x, y = placed[two, 0] - placed[one, 0], placed[two, 1] - placed[one, 1]
    length = math.sqrt(x * x + y * y)
    if length < 1e-9:
        return 0.0
    x, y = x / length, y / length
    near, far = -math.inf, math.inf
    for i in range(0, 9, 3):
        near = max(near, x * placed[one, i] + y * placed[one, i + 1])
        far = min(far, x * placed[two, i] + y * placed[two, i + 1])
    return far - near


@njit(cache=True)
def clear(pairs, boxes, looked, rows, girth, placed, least):  # type: ignore[no-untyped-def]
    """Least gap of femurs and tibias from those of neighbours and from the trunk [m].

    Args:
        pairs: (P, 2) neighbours.
        boxes: (B, BOX)
        looked: (B, L, 2) whether femur and tibia are measured against a box.
        rows: (L, ROW)
        girth: (L, GIRTH)
        placed: (L, PLACED)
        least: Least so far; pairs that cannot come nearer are passed over.
    """
    for p in range(pairs.shape[0]):
        one, two = pairs[p, 0], pairs[p, 1]
        thick = max(girth[one, 0], girth[one, 1]) + max(girth[two, 0], girth[two, 1])
        if _beside(placed, one, two) - thick > least:
            continue
        for i in range(2):
            for j in range(2):
                room = girth[one, i] + girth[two, j]
                least = min(least, segment_gap(placed, one, 3 * i, two, 3 * j) - room)
    for leg in range(rows.shape[0]):
        least = trunk_gap(boxes, looked, rows, girth, leg, placed, leg, least)
    return least
