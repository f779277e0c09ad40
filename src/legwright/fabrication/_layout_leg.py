"""Kernel: one leg of a candidate layout: where its parts are, and how far it is from its edge.

A leg is one row of numbers, places named below: 0-30 as in `mechanics/_knee.py` (frame, origin,
measures, limits; 28-30 the standing pose), then the branch that it stands in, the masses, and
what the edge of its reachable region is measured from.
"""

from __future__ import annotations

import math

from numba import njit

SIDE, BEND = 31, 32
"""Sign of the foot's distance outward, and of the knee's bend."""
MASS = 33
"""33-36, 37-40, 41-44: mass of coxa, femur, tibia link [kg] and where it lies: coxa across,
outward, up from the first axis; the others along their segment, square to it, across [m]."""
EDGE = 45
"""45-48: for the two ends of the knee's travel, distance of the foot from the femur axis [m] and
its angle ahead of the femur [rad]; 49-52: knee positions at the ends of the femur's travel; 53-60:
the four corners where both are at an end; 61-62: the ends of the knee's travel."""
ROW = 64

COS2, SIN2, COS3, SIN3, SHARE = 15, 16, 17, 18, 19
"""Places in a placed leg: 0-2 femur axis, 3-5 knee, 6-8 foot, 9-11 across, 12-14 outward axis;
then cosines and sines of the segments' slopes; 20-22 joint positions; 23-24 foot from the femur
axis, outward and up; 25-33 centres of mass."""
PLACED = 36

TAU = 2.0 * math.pi


@njit(cache=True, inline="always")
def _near(angle, near):  # type: ignore[no-untyped-def]
    """The angle, whole turns added, nearest to another."""
    return angle + TAU * math.floor((near - angle) / TAU + 0.5)


@njit(cache=True)
def place(g, px, py, pz, s):  # type: ignore[no-untyped-def]
    """Puts the foot of leg row ``g`` on a point of the body frame; fills ``s``.

    Returns:
        Least distance of any joint from its limits [rad], negative beyond one; -10 where the
        segments are too short or too long.
    """
    dx, dy, dz = px - g[9], py - g[10], pz - g[11]
    x = g[0] * dx + g[1] * dy + g[2] * dz
    y = g[3] * dx + g[4] * dy + g[5] * dz
    z = g[6] * dx + g[7] * dy + g[8] * dz
    slant, cosine, femur, tibia = g[12], g[13], g[18], g[20]
    c = (g[14] - cosine * z) / slant
    rr = x * x + y * y
    w2 = rr - c * c
    if w2 <= 1e-18 or rr <= 1e-18:
        return -10.0
    u = g[SIDE] * math.sqrt(w2)
    up = slant * z - cosine * c - g[16]
    out = u - g[15]
    dd = out * out + up * up
    bend = (dd - femur * femur - tibia * tibia) / 2.0
    area = femur * tibia
    rest = area * area - bend * bend
    if rest <= 0.0 or dd <= 1e-18:
        return -10.0
    rise = g[BEND] * math.sqrt(rest)
    c1, s1 = (c * x + u * y) / rr, (c * y - u * x) / rr
    c2 = (out * (femur * femur + bend) + up * rise) / (dd * femur)
    s2 = (up * (femur * femur + bend) - out * rise) / (dd * femur)
    c3, s3 = (c2 * bend - s2 * rise) / area, (s2 * bend + c2 * rise) / area
    q1 = _near(math.atan2(s1, c1), g[28])
    q2 = _near(math.atan2(s2, c2) - g[19], g[29])
    q3 = _near(g[17] * (math.atan2(rise, bend) - g[21]), g[30])
    for i in range(3):
        ahead = c1 * g[i] + s1 * g[3 + i]
        s[12 + i] = -s1 * g[i] + c1 * g[3 + i]
        s[9 + i] = slant * ahead + cosine * g[6 + i]
        rising = -cosine * ahead + slant * g[6 + i]
        a, b = s[9 + i], s[12 + i]
        s[i] = g[9 + i] + g[14] * a + g[15] * b + g[16] * rising
        s[3 + i] = s[i] + femur * (c2 * b + s2 * rising)
        s[6 + i] = s[3 + i] + tibia * (c3 * b + s3 * rising)
        s[25 + i] = g[9 + i] + g[34] * a + g[35] * b + g[36] * rising
        s[28 + i] = (
            s[i]
            + (g[38] * c2 - g[39] * s2) * b
            + (g[38] * s2 + g[39] * c2) * rising
            + (g[40] - g[14]) * a
        )
        s[31 + i] = (
            s[3 + i]
            + (g[42] * c3 - g[43] * s3) * b
            + (g[42] * s3 + g[43] * c3) * rising
            + (g[44] - g[14]) * a
        )
    s[COS2], s[SIN2], s[COS3], s[SIN3] = c2, s2, c3, s3
    s[20], s[21], s[22], s[23], s[24] = q1, q2, q3, out, up
    return min(
        q1 - g[22], g[25] - q1, q2 - g[23], g[26] - q2, q3 - g[24], g[27] - q3,
    )  # fmt: skip


@njit(cache=True)
def prepare_edge(g):  # type: ignore[no-untyped-def]
    """Fills in what the edge of a leg's region is measured from; the knee keeps its side."""
    femur, tibia = g[18], g[20]
    half = math.floor((g[17] * g[30] + g[21]) / math.pi)
    one = g[17] * (half * math.pi - g[21])
    two = g[17] * ((half + 1.0) * math.pi - g[21])
    g[61] = max(g[24], min(one, two))
    g[62] = min(g[27], max(one, two))
    for k in range(2):
        turn = g[17] * g[61 + k] + g[21]
        x, y = femur + tibia * math.cos(turn), tibia * math.sin(turn)
        g[EDGE + 2 * k] = math.hypot(x, y)
        g[EDGE + 2 * k + 1] = math.atan2(y, x)
        for j in range(2):
            limit = g[23 + 3 * j]
            if math.isinf(limit):
                continue
            slope = limit + g[19]
            g[49 + 2 * j] = femur * math.cos(slope)
            g[50 + 2 * j] = femur * math.sin(slope)
            place_at = 53 + 4 * k + 2 * j
            g[place_at] = g[49 + 2 * j] + tibia * math.cos(slope + turn)
            g[place_at + 1] = g[50 + 2 * j] + tibia * math.sin(slope + turn)


@njit(cache=True)
def _bent(g, out, up):  # type: ignore[no-untyped-def]
    """Whether a point of the leg's plane is reached inside the limits of femur and tibia."""
    femur, tibia = g[18], g[20]
    dd = out * out + up * up
    bend = (dd - femur * femur - tibia * tibia) / 2.0
    rest = femur * femur * tibia * tibia - bend * bend
    if rest <= 0.0:
        return False
    rise = g[BEND] * math.sqrt(rest)
    q3 = _near(g[17] * (math.atan2(rise, bend) - g[21]), g[30])
    q2 = _near(math.atan2(up, out) - math.atan2(rise, femur * femur + bend) - g[19], g[29])
    return g[23] <= q2 <= g[26] and g[61] <= q3 <= g[62]


@njit(cache=True)
def reserve(g, s, px, py, pz):  # type: ignore[no-untyped-def]
    """Distance of a placed foot from the edge of what the leg reaches inside its limits [m].

    In the leg's plane the edge is four arcs: the knee at an end of its travel (about the femur
    axis), the femur at an end of its travel (about the knee). Turned about the first axis they
    make the whole edge, with the two planes at the ends of the first joint's travel. Exact
    where the foot's plane holds the first axis and the first axis is square to the second.
    """
    out, up = s[23], s[24]
    far, slope = math.hypot(out, up), math.atan2(up, out)
    least = math.inf
    for k in range(2):
        radius, lead = g[EDGE + 2 * k], g[EDGE + 2 * k + 1]
        q2 = _near(slope - lead - g[19], g[29])
        if g[23] <= q2 <= g[26]:
            least = min(least, abs(far - radius))
        else:
            for j in range(2):
                if not math.isinf(g[23 + 3 * j]):
                    at = 53 + 4 * k + 2 * j
                    least = min(least, math.hypot(out - g[at], up - g[at + 1]))
    for j in range(2):
        limit = g[23 + 3 * j]
        if math.isinf(limit):
            continue
        x, y = out - g[49 + 2 * j], up - g[50 + 2 * j]
        q3 = _near(g[17] * (math.atan2(y, x) - limit - g[19] - g[21]), g[30])
        if g[61] <= q3 <= g[62]:
            least = min(least, abs(math.hypot(x, y) - g[20]))
    dx, dy, dz = px - g[9], py - g[10], pz - g[11]
    x = g[0] * dx + g[1] * dy + g[2] * dz
    y = g[3] * dx + g[4] * dy + g[5] * dz
    for j in range(2):
        limit = g[22 + 3 * j]
        if math.isinf(limit):
            continue
        c, si = math.cos(limit), math.sin(limit)
        across, along = c * x + si * y - g[14] * g[12], c * y - si * x - g[15]
        if abs(across) < least and _bent(g, along, up):
            least = abs(across)
    if abs(g[14]) > 1e-9:
        least = min(least, math.hypot(g[14], out + g[15]) - abs(g[14]))
    return least


@njit(cache=True)
def rates(g, s, vx, vy, vz, out):  # type: ignore[no-untyped-def]
    """Joint rates of a placed leg whose foot moves with (vx, vy, vz); fills ``out`` (3,).

    Returns:
        False where the leg is straight, folded or under its first axis.
    """
    rx, ry, rz = s[6] - g[9], s[7] - g[10], s[8] - g[11]
    tx = g[7] * rz - g[8] * ry
    ty = g[8] * rx - g[6] * rz
    tz = g[6] * ry - g[7] * rx
    arm = tx * s[9] + ty * s[10] + tz * s[11]
    bend = s[COS2] * s[SIN3] - s[SIN2] * s[COS3]
    if abs(arm) < 1e-9 or abs(bend) < 1e-6:
        return False
    q1 = (vx * s[9] + vy * s[10] + vz * s[11]) / arm
    vx, vy, vz = vx - q1 * tx, vy - q1 * ty, vz - q1 * tz
    outward = vx * s[12] + vy * s[13] + vz * s[14]
    ux = s[10] * s[14] - s[11] * s[13]
    uy = s[11] * s[12] - s[9] * s[14]
    uz = s[9] * s[13] - s[10] * s[12]
    upward = vx * ux + vy * uy + vz * uz
    femur = (outward * s[COS3] + upward * s[SIN3]) / (g[18] * bend)
    tibia = -(outward * s[COS2] + upward * s[SIN2]) / (g[20] * bend)
    out[0], out[1], out[2] = q1, femur, g[17] * (tibia - femur)
    return True


@njit(cache=True)
def torques(rows, placed, leg, push, gravity, out):  # type: ignore[no-untyped-def]
    """Torques that hold a placed leg against an upward push on its foot and its own weight.

    Args:
        rows: (L, ROW)
        placed: (L, PLACED)
        leg: Which leg.
        push: Upward force of the ground on the foot [N].
        gravity: [m/s²].
        out: (L, 3), the leg's filled, positive along the joint axes [N·m].
    """
    ax, ay = placed[leg, 9], placed[leg, 10]
    first = second = third = 0.0
    for k in range(4):
        at = 6 if k == 3 else 25 + 3 * k
        x, y = placed[leg, at], placed[leg, at + 1]
        force = push if k == 3 else -gravity * rows[leg, MASS + 4 * k]
        first += force * ((y - rows[leg, 10]) * rows[leg, 6] - (x - rows[leg, 9]) * rows[leg, 7])
        if k > 0:
            second += force * ((y - placed[leg, 1]) * ax - (x - placed[leg, 0]) * ay)
        if k > 1:
            third += force * ((y - placed[leg, 4]) * ax - (x - placed[leg, 3]) * ay)
    out[leg, 0], out[leg, 1], out[leg, 2] = -first, -second, -rows[leg, 17] * third
