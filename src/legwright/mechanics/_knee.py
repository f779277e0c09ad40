"""Kernel: closed-form inverse kinematics of a three-joint leg with parallel last axes.

A leg is one packed row, see `knee_of`: 0-8 frame, 9-11 its origin, 12 sine and 13 cosine
between axes 1 and 2, 14 place of the foot's plane along axis 2, 15-16 axis 2 in that plane,
17 sign of axis 3, 18-19 femur length and turn, 20-21 tibia length and turn, 22-24 lower,
25-27 upper, 28-30 middle.
"""

from __future__ import annotations

import math

from legwright.kernel import kernel, within
from legwright.mechanics._edge import nearest

TAU = 2.0 * math.pi
SLACK = 1e-7
"""Angle by which rounding may push a solution over a limit [rad]; it is put back."""
TINY = 1e-18
"""Squared length below which a direction is no direction [m²]."""
ROUND = 1e-12
"""Share by which rounding may stretch a straight leg."""
GOOD = 1e-9
"""Error above which the reachable region's edge is searched too [m]."""

FAR = 1.6
"""Distances to the edge are told up to so many times the least that is known."""


@within
def _fit(angle, low, high, near):  # type: ignore[no-untyped-def]
    """The angle, whole turns added, inside its limits and nearest to ``near``; else NaN."""
    value = angle + TAU * math.floor((near - angle) / TAU + 0.5)
    if value > high + SLACK:
        value -= TAU * math.ceil((value - high - SLACK) / TAU)
    elif value < low - SLACK:
        value += TAU * math.ceil((low - SLACK - value) / TAU)
    if value > high + SLACK or value < low - SLACK:
        return math.nan
    return min(max(value, low), high)


@within
def _inside(m, q1, q2, q3):  # type: ignore[no-untyped-def]
    """Whether all joints lie inside their limits, not on them."""
    return m[22] < q1 < m[25] and m[23] < q2 < m[26] and m[24] < q3 < m[27]


@within
def solve(m, px, py, pz, n1, n2, n3):  # type: ignore[no-untyped-def]
    """Best of the four branches: (q1, q2, q3, squared error); error inf where none fits."""
    px, py, pz = px - m[9], py - m[10], pz - m[11]
    x = m[0] * px + m[1] * py + m[2] * pz
    y = m[3] * px + m[4] * py + m[5] * pz
    z = m[6] * px + m[7] * py + m[8] * pz
    slant, cosine, femur, tibia = m[12], m[13], m[18], m[20]
    c = (m[14] - cosine * z) / slant
    rr = x * x + y * y
    w = math.sqrt(max(rr - c * c, 0.0))
    v = slant * z - cosine * c - m[16]
    azimuth_free = rr < TINY
    b1 = b2 = b3 = 0.0
    best, bent = math.inf, 0.0
    area, whole = femur * tibia, femur * femur + tibia * tibia
    for _side in range(2):
        across, w = w, -w
        u = -across - m[15]
        dd = u * u + v * v
        bend = (dd - whole) / 2.0
        if abs(bend) > area + ROUND * whole:
            continue
        q1 = n1
        if not azimuth_free:
            q1 = math.atan2(c * y + across * x, c * x - across * y)
        q1 = _fit(q1, m[22], m[25], n1)
        if math.isnan(q1):
            continue
        far = (q1 - n1) ** 2
        if far >= best:
            continue
        rise = math.sqrt(max(area * area - bend * bend, 0.0))
        knee = math.atan2(rise, bend)
        reach = math.atan2(v, u)
        lead = math.atan2(rise, femur * femur + bend)
        for _elbow in range(2):
            q3 = _fit(m[17] * (knee - m[21]), m[24], m[27], n3)
            if dd < TINY:
                q2 = _fit(n2, m[23], m[26], n2)
            else:
                q2 = _fit(reach - lead - m[19], m[23], m[26], n2)
            knee, lead = -knee, -lead
            if math.isnan(q2) or math.isnan(q3):
                continue
            here = far + (q2 - n2) ** 2 + (q3 - n3) ** 2
            if here < best:
                best, bent, b1, b2, b3 = here, rise, q1, q2, q3
            if rise == 0.0:
                break
        if w == 0.0:
            break
    if best == math.inf:
        return b1, b2, b3, best
    if bent > 0.0 and rr > max(c * c, TINY) and _inside(m, b1, b2, b3):
        return b1, b2, b3, 0.0  # nothing was put back
    t2 = b2 + m[19]
    t3 = t2 + m[17] * b3 + m[21]
    u = m[15] + femur * math.cos(t2) + tibia * math.cos(t3)
    v = m[16] + femur * math.sin(t2) + tibia * math.sin(t3)
    fx = slant * m[14] - cosine * v
    fz = cosine * m[14] + slant * v
    s1, c1 = math.sin(b1), math.cos(b1)
    dx, dy, dz = c1 * fx - s1 * u - x, s1 * fx + c1 * u - y, fz - z
    return b1, b2, b3, dx * dx + dy * dy + dz * dz


@kernel
def reach(packs, points, near, q, error, enough):  # type: ignore[no-untyped-def]
    """Targets (N, L, 3), near (N or 1, L, 3) -> q (N, L, 3), error (N, L).

    A ``near`` with no rows stands for the middle of the ranges. Goes on up to the first error of
    more than ``enough``, and returns the leg that has it, or -1.
    """
    rows = near.shape[0]
    for k in range(points.shape[0]):
        for leg in range(points.shape[1]):
            m = packs[leg]
            n1, n2, n3 = m[28], m[29], m[30]
            if rows > 0:
                row = near[k if rows > 1 else 0, leg]
                n1, n2, n3 = row[0], row[1], row[2]
            x, y, z = points[k, leg, 0], points[k, leg, 1], points[k, leg, 2]
            a, b, c, miss = solve(m, x, y, z, n1, n2, n3)
            if miss > GOOD * GOOD:
                e1, e2, e3, other = nearest(m, x, y, z, n1, n2, n3, math.inf)
                if other < miss:
                    a, b, c, miss = e1, e2, e3, other
            q[k, leg, 0], q[k, leg, 1], q[k, leg, 2] = a, b, c
            error[k, leg] = math.sqrt(miss)
            if error[k, leg] > enough:
                return leg
    return -1


@within
def _between(angle, low, high):  # type: ignore[no-untyped-def]
    """Whether an angle, whole turns added, lies inside limits."""
    if math.isinf(low) or math.isinf(high):
        return True
    return angle + TAU * math.ceil((low - angle) / TAU) <= high


@within
def _reached(m, px, py, pz):  # type: ignore[no-untyped-def]
    """Whether a target is reached inside the limits; most answers need no whole `solve`."""
    dx, dy, dz = px - m[9], py - m[10], pz - m[11]
    x = m[0] * dx + m[1] * dy + m[2] * dz
    y = m[3] * dx + m[4] * dy + m[5] * dz
    z = m[6] * dx + m[7] * dy + m[8] * dz
    c = (m[14] - m[13] * z) / m[12]
    v = m[12] * z - m[13] * c - m[16]
    area, whole = m[18] * m[20], m[18] * m[18] + m[20] * m[20]
    across = math.sqrt(max(x * x + y * y - c * c, 0.0))
    doubt = False
    for _side in range(2):
        side, across = across, -across
        u = -side - m[15]
        bend = (u * u + v * v - whole) / 2.0
        if abs(bend) > area + ROUND * whole:
            continue
        if abs(side) < SLACK or abs(bend) > area - ROUND * whole or u * u + v * v < SLACK * SLACK:
            doubt = True  # on an edge, or straight, or folded onto itself
            continue
        q1 = math.atan2(c * y + side * x, c * x - side * y)
        if not _between(q1, m[22] - SLACK, m[25] + SLACK):
            continue
        rise = math.sqrt(area * area - bend * bend)
        knee, lead = math.atan2(rise, bend), math.atan2(rise, m[18] * m[18] + bend)
        ahead = math.atan2(v, u) - m[19]
        for sign in (1.0, -1.0):
            q2, q3 = ahead - sign * lead, m[17] * (sign * knee - m[21])
            if not _between(q3, m[24] - SLACK, m[27] + SLACK):
                continue
            if not _between(q2, m[23] - SLACK, m[26] + SLACK):
                continue
            doubt = True
            if (
                _between(q1, m[22], m[25])
                and _between(q2, m[23], m[26])
                and _between(q3, m[24], m[27])
            ):
                return True
    return doubt and solve(m, px, py, pz, m[28], m[29], m[30])[3] < GOOD * GOOD


@kernel
def inside(m, points, out):  # type: ignore[no-untyped-def]
    """Whether targets (N, 3) are reached inside the limits: ``out`` (N,)."""
    for k in range(points.shape[0]):
        out[k] = _reached(m, points[k, 0], points[k, 1], points[k, 2])


@kernel
def shared(m, points, middle, size):  # type: ignore[no-untyped-def]
    """How many of some targets a leg reaches were it not for its limits, and with them.

    Targets are points (N, 3) of a cube from -1 to 1, with another size and about a middle (3,).
    """
    possible, within_limits = 0, 0
    for k in range(points.shape[0]):
        tx, ty = middle[0] + points[k, 0] * size, middle[1] + points[k, 1] * size
        tz = middle[2] + points[k, 2] * size
        px, py, pz = tx - m[9], ty - m[10], tz - m[11]
        x = m[0] * px + m[1] * py + m[2] * pz
        y = m[3] * px + m[4] * py + m[5] * pz
        z = m[6] * px + m[7] * py + m[8] * pz
        c = (m[14] - m[13] * z) / m[12]
        square = x * x + y * y - c * c
        if square < 0.0:
            continue
        v = m[12] * z - m[13] * c - m[16]
        u = abs(math.sqrt(square) - abs(m[15])), math.sqrt(square) + abs(m[15])
        least, most = abs(m[18] - m[20]), m[18] + m[20]
        near, far = math.sqrt(u[0] * u[0] + v * v), math.sqrt(u[1] * u[1] + v * v)
        if not (least <= near <= most or least <= far <= most):
            continue
        possible += 1
        within_limits += _reached(m, tx, ty, tz)
    return possible, within_limits


@within
def _one_side(m, bend, near):  # type: ignore[no-untyped-def]
    """The leg ``m`` as ``near``, its knee kept on the side that holds ``bend``; the side."""
    side = math.floor((m[17] * bend + m[21]) / math.pi)
    one = m[17] * (side * math.pi - m[21])
    two = m[17] * ((side + 1.0) * math.pi - m[21])
    near[24] = max(m[24], min(one, two))
    near[27] = min(m[27], max(one, two))
    return side


@kernel
def reserve(m, points, q, out):  # type: ignore[no-untyped-def]
    """Distances ``out`` (N,) from reached points (N, 3), held with ``q`` (N, 3), to the edge.

    The knee keeps its side: its range ends where it is straight or folded.
    """
    near = m.copy()
    for k in range(points.shape[0]):
        _one_side(m, q[k, 2], near)
        x, y, z = points[k, 0], points[k, 1], points[k, 2]
        out[k] = math.sqrt(nearest(near, x, y, z, q[k, 0], q[k, 1], q[k, 2], math.inf)[3])


@kernel
def least_reserve(m, points, q, least):  # type: ignore[no-untyped-def]
    """The least of `reserve` and ``least``.

    A distance changes by no more than the point moves, so that most points need no search; and
    how far the edge is matters up to `FAR` times the least.
    """
    near, known, last, seen = m.copy(), math.inf, math.nan, 0
    for k in range(points.shape[0]):
        x, y, z = points[k, 0], points[k, 1], points[k, 2]
        side = _one_side(m, q[k, 2], near)
        if side == last:
            dx, dy, dz = x - points[seen, 0], y - points[seen, 1], z - points[seen, 2]
            if known - math.sqrt(dx * dx + dy * dy + dz * dz) > least + ROUND:
                continue
        found = nearest(near, x, y, z, q[k, 0], q[k, 1], q[k, 2], FAR * least)
        known = math.sqrt(found[3])
        least, last, seen = min(least, known), side, k
    return least
