"""Kernels: least distance of a surface from a convex shape that moves.

Boxes of the tree over the surface are opened in the order of how near they can be. A box is told
apart from the shape along the axes of both, which leaves few triangles to be measured.
"""

from __future__ import annotations

import math

import numpy as np

from legwright.fabrication._gap_kernel import BOX, CYLINDER, HULL, LEAF, POINT, triangle_gap
from legwright.fabrication._way_kernel import SEEN, chain, swing
from legwright.kernel import kernel, within

DEEP = 64
"""Boxes that can wait to be opened: more than any tree has levels."""
SLACK = 1e-9
"""By so much less than it may a shape has to have moved [m]."""
MET = 1e-12
"""Boxes no farther away than this are opened, whatever is known [m]."""


@within
def reaches(kind, size, hull, out):  # type: ignore[no-untyped-def]
    """Box around a shape's core, in its own frame: ``out`` (2, 3), its middle and half its size."""
    for k in range(3):
        low = high = 0.0
        if kind == BOX:
            high = size[k]
            low = -high
        elif kind == CYLINDER:
            high = size[k // 2]
            low = -high
        elif kind == HULL:
            low, high = math.inf, -math.inf
            for i in range(hull.shape[0]):
                low, high = min(low, hull[i, k]), max(high, hull[i, k])
        out[0, k], out[1, k] = 0.5 * (low + high), 0.5 * (high - low)


@within
def pose_gap(  # type: ignore[no-untyped-def]
    low,
    high,
    corners,
    kind,
    size,
    radius,
    hull,
    reach,
    c,
    R,
    known,
    enough,
    least,
    stack,
    away,
    local,
    W,
    P,
    work,
):
    """Distance of a shape from a surface in one pose, inf where not less than ``known``.

    The shape is at ``c`` (3,), turned by ``R`` (3, 3). Where it is nearer than ``enough``, the
    distance is exact where it is less than ``least`` too, else some larger one. Beside it, which
    triangle is nearest. ``reach`` (2, 3) as of `reaches`; ``stack`` (64,), ``away`` (64,) and
    ``local`` (3, 3) are room, the rest as in `triangle_gap`.
    """
    first_leaf = low.shape[0] // 2
    px, py, pz = reach[0, 0], reach[0, 1], reach[0, 2]
    hx, hy, hz = reach[1, 0], reach[1, 1], reach[1, 2]
    r00, r01, r02 = R[0, 0], R[0, 1], R[0, 2]
    r10, r11, r12 = R[1, 0], R[1, 1], R[1, 2]
    r20, r21, r22 = R[2, 0], R[2, 1], R[2, 2]
    # The core's upright box: its middle from the shape's place, and half its size.
    mx, my, mz = (
        r00 * px + r01 * py + r02 * pz,
        r10 * px + r11 * py + r12 * pz,
        r20 * px + r21 * py + r22 * pz,
    )
    if kind == CYLINDER:
        wx = hx * math.sqrt(r00 * r00 + r01 * r01) + hz * abs(r02)
        wy = hx * math.sqrt(r10 * r10 + r11 * r11) + hz * abs(r12)
        wz = hx * math.sqrt(r20 * r20 + r21 * r21) + hz * abs(r22)
    else:
        wx = hx * abs(r00) + hy * abs(r01) + hz * abs(r02)
        wy = hx * abs(r10) + hy * abs(r11) + hz * abs(r12)
        wz = hx * abs(r20) + hy * abs(r21) + hz * abs(r22)
    best, at = math.inf, -1
    near = max(known, MET) + radius
    near *= near
    stack[0], away[0] = 0, 0.0
    top = 1
    while top:
        top -= 1
        node = stack[top]
        if away[top] >= near:
            continue
        if node < first_leaf:
            to_one = to_two = math.inf
            for child in range(2 * node + 1, 2 * node + 3):
                a = 0.5 * (high[child, 0] - low[child, 0])
                b = 0.5 * (high[child, 1] - low[child, 1])
                d = 0.5 * (high[child, 2] - low[child, 2])
                if a < 0.0:
                    continue  # it holds nothing
                x, y = low[child, 0] + a - c[0], low[child, 1] + b - c[1]
                z = low[child, 2] + d - c[2]
                u = max(abs(x - mx) - wx - a, 0.0)
                v = max(abs(y - my) - wy - b, 0.0)
                w = max(abs(z - mz) - wz - d, 0.0)
                far = u * u + v * v + w * w
                if far < near and kind != POINT:  # and along the shape's own axes
                    u = abs(r00 * x + r10 * y + r20 * z - px) - hx
                    v = abs(r01 * x + r11 * y + r21 * z - py) - hy
                    w = abs(r02 * x + r12 * y + r22 * z - pz) - hz
                    u = max(u - (abs(r00) * a + abs(r10) * b + abs(r20) * d), 0.0)
                    v = max(v - (abs(r01) * a + abs(r11) * b + abs(r21) * d), 0.0)
                    w = max(w - (abs(r02) * a + abs(r12) * b + abs(r22) * d), 0.0)
                    far = max(far, u * u + v * v + w * w)
                if child & 1:
                    to_one = far
                else:
                    to_two = far
            one = 2 * node + 1
            for turn in range(2):  # the nearer is opened next
                if (turn == 0) == (to_one > to_two):
                    child, far = one, to_one
                else:
                    child, far = one + 1, to_two
                if far < near:
                    stack[top], away[top] = child, far
                    top += 1
            continue
        start = (node - first_leaf) * LEAF
        for n in range(start, min(start + LEAF, corners.shape[0])):
            for m in range(3):
                x, y, z = corners[n, m, 0] - c[0], corners[n, m, 1] - c[1], corners[n, m, 2] - c[2]
                local[m, 0] = r00 * x + r10 * y + r20 * z
                local[m, 1] = r01 * x + r11 * y + r21 * z
                local[m, 2] = r02 * x + r12 * y + r22 * z
            # Two bounds from below, before the distance is worked out: along the shape's axes,
            # and across the triangle's plane.
            far = 0.0
            for k in range(3):
                lowest = min(local[0, k], local[1, k], local[2, k]) - reach[0, k]
                highest = max(local[0, k], local[1, k], local[2, k]) - reach[0, k]
                gap = max(lowest, -highest) - reach[1, k]
                if gap > 0.0:
                    far += gap * gap
            if far > near:
                continue
            x, y, z = local[0, 0], local[0, 1], local[0, 2]
            a, b, d = local[1, 0] - x, local[1, 1] - y, local[1, 2] - z
            u, v, w = local[2, 0] - x, local[2, 1] - y, local[2, 2] - z
            a, b, d = b * w - d * v, d * u - a * w, a * v - b * u
            over = a * x + b * y + d * z
            if over < 0.0:
                a, b, d, over = -a, -b, -d, -over
            if kind == CYLINDER:
                over -= hx * math.sqrt(a * a + b * b) + hz * abs(d)
            elif kind == HULL:
                most = -math.inf
                for i in range(hull.shape[0]):
                    most = max(most, a * hull[i, 0] + b * hull[i, 1] + d * hull[i, 2])
                over -= most
            else:
                over -= hx * abs(a) + hy * abs(b) + hz * abs(d)
            if over > 0.0 and over * over > near * (a * a + b * b + d * d):
                continue
            gap, _ = triangle_gap(local, kind, size, radius, hull, known, W, P, work)
            if gap < known:
                best, at = gap, n
                if gap <= -radius:
                    return best, at
                known = min(gap, least) if gap < enough else gap
                near = max(known, MET) + radius
                near *= near
    return best, at


@kernel
def least_gaps(  # type: ignore[no-untyped-def]
    low, high, corners, kind, size, radius, hull, centre, turn, which, order, spare, most, each,
    best, at,
):  # fmt: skip
    """Distances of one moving shape from a surface.

    Poses ``centre`` (T, S, 3), ``turn`` (T, S, 9) of many shapes in the surface's frame; that
    of shape ``which`` is measured in those of ``order`` (N,). With ``each`` 1, ``best`` (T,) and
    ``at`` (T, 2) tell of every pose; with 0, ``best`` (1,) and ``at`` (1, 2) tell of the least
    over all poses: pose and triangle. Only what is nearer than ``most`` is looked for.

    With ``each`` 0 it is also told whether the shape is up to ``spare`` farther away than what is
    known, and poses that follow are passed over until it may have moved so far.
    """
    stack, away = np.empty(DEEP, dtype=np.int64), np.empty(DEEP)
    reach, local = np.empty((2, 3)), np.empty((3, 3))
    W, P, work = np.empty((4, 3)), np.empty((4, 3)), np.empty(3)
    c, R = np.empty(3), np.empty((3, 3))
    reaches(kind, size, hull, reach)
    girth = 0.0
    for k in range(3):
        girth += (abs(reach[0, k]) + reach[1, k]) ** 2
    girth = math.sqrt(girth) + radius
    known, seen, room = most, -1, 0.0
    for t in order:
        if each == 1:
            known = most
        far = 0.0
        for k in range(3):
            c[k] = centre[t, which, k]
            gap = max(low[0, k] - c[k], c[k] - high[0, k], 0.0)
            far += gap * gap
        if far > (max(known, 0.0) + girth) ** 2:
            continue
        if (
            room > 0.0
        ):  # a point turned by an angle a moves 2 r sin(a / 2); so much is |R - R'| / √2
            moved = turned = 0.0
            for k in range(3):
                moved += (c[k] - centre[seen, which, k]) ** 2
            for k in range(9):
                turned += (turn[t, which, k] - turn[seen, which, k]) ** 2
            if math.sqrt(moved) + girth * math.sqrt(0.5 * turned) < room - SLACK:
                continue
        for k in range(9):
            R[k // 3, k % 3] = turn[t, which, k]
        gap, n = pose_gap(
            low, high, corners, kind, size, radius, hull, reach, c, R, known + spare, -math.inf,
            math.inf, stack, away, local, W, P, work,
        )  # fmt: skip
        seen, room = t, min(gap - known, spare)
        if gap < known:
            known = gap
            slot = t if each == 1 else 0
            best[slot], at[slot, 0], at[slot, 1] = gap, t, n
        if each == 0 and known <= -radius:
            break


@kernel
def least_over_ranges(  # type: ignore[no-untyped-def]
    low,
    high,
    corners,
    kind,
    size,
    radius,
    hull,
    placement,
    ends,
    around,
    steps,
    lower,
    upper,
    known,
    exact,
    most,
    at,
):
    """Least distance of a shape from a surface over all positions of the drives between them.

    Boxes of positions, level by level, are halved until each is shown to hold nothing nearer
    than what is known less ``exact``: the distance at its middle less how far the shape can be
    from there. Only what is nearer than ``known`` is looked for; the first pose in which the
    two meet ends the search.

    Args:
        low: (B, 3) of the tree over the surface [m].
        high: (B, 3)
        corners: (M, 3, 3) of its triangles.
        kind: Of the shape.
        size: (3,)
        radius: Around its core [m].
        hull: (H, 3)
        placement: (4, 4) of the shape in its link.
        ends: (K, 3), see `swing`.
        around: See `swing`.
        steps: (S, 18 + D), see `chain`.
        lower: (D,) ends of the ranges [rad or m].
        upper: (D,)
        known: [m]
        exact: [m]
        most: Poses tried before no box is halved any more.
        at: (D,), filled: positions of the nearest pose found.

    Returns:
        Distance of that, ``known`` where there is none; what no pose goes below; and whether
        there is one.
    """
    D, last_seen = len(lower), SEEN * len(steps)
    stack, away = np.empty(DEEP, dtype=np.int64), np.empty(DEEP)
    reach, local = np.empty((2, 3)), np.empty((3, 3))
    W, P, work = np.empty((4, 3)), np.empty((4, 3)), np.empty(3)
    seen, each, c, R = np.empty(last_seen + 12), np.empty(D), np.empty(3), np.empty((3, 3))
    middles, halves = np.empty((3 * most + 4, D)), np.empty((3 * most + 4, D))
    reaches(kind, size, hull, reach)
    for d in range(D):
        at[d] = middles[0, d] = 0.5 * (lower[d] + upper[d])
        halves[0, d] = 0.5 * (upper[d] - lower[d])
    best, floor, left, found = known, math.inf, most, False
    first, last = 0, 1
    while first < last:
        left -= last - first
        end = last
        for b in range(first, last):
            chain(steps, middles[b], seen)
            swung = swing(steps, seen, halves[b], ends, around, each)
            for k in range(3):
                i = last_seen + 3 + 3 * k
                x, y, z = seen[i], seen[i + 1], seen[i + 2]
                c[k] = seen[last_seen + k]
                c[k] += x * placement[0, 3] + y * placement[1, 3] + z * placement[2, 3]
                for i in range(3):
                    R[k, i] = x * placement[0, i] + y * placement[1, i] + z * placement[2, i]
            enough = swung + max(best - exact, 0.0)
            gap, _ = pose_gap(
                low, high, corners, kind, size, radius, hull, reach, c, R,
                swung + max(best, 1e-6), enough, best, stack, away, local, W, P, work,
            )  # fmt: skip
            if gap < best or gap <= 0.0:
                best, found = min(gap, best), True
                for d in range(D):
                    at[d] = middles[b, d]
            if gap <= 0.0:
                return best, best, found
            if gap >= enough or left <= 0 or D == 0:
                floor = min(floor, gap - swung)
                continue
            widest = 0
            for d in range(1, D):
                if each[d] > each[widest]:
                    widest = d
            for side in range(2):
                for d in range(D):
                    middles[end, d], halves[end, d] = middles[b, d], halves[b, d]
                halves[end, widest] *= 0.5
                middles[end, widest] += (2 * side - 1) * halves[end, widest]
                end += 1
        first, last = last, end
    return best, min(best, floor), found
