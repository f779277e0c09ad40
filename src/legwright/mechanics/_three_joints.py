"""Kernel: closed-form inverse kinematics of three-joint legs whose last two axes are parallel.

The last two joints turn about parallel axes, so the foot keeps its coordinate along them. That
leaves ``a cos q1 + b sin q1 = c`` for the first joint (two roots), then the triangle of the
last two segments (two roots): four branches. Nothing is assumed of the first axis but that it
is not parallel to the others.

Source: product of exponentials and Paden-Kahan subproblems, Murray, Li and Sastry, A
Mathematical Introduction to Robotic Manipulation (1994), sec. 3.3; law of cosines.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from legwright.mechanics._chain_kernels import columns, pose
from legwright.robot.chain import Chain
from legwright.robot.tree import Floats

PARALLEL = 1e-9
"""Sine of the largest angle between two axes that count as parallel."""

SHORTEST = 1e-9
"""Segments shorter than this have no direction [m]."""

TWO_PI = 2.0 * np.pi
SLACK = 1e-10
"""A joint may be this far beyond its limit and count as on it [rad]: rounding only."""

# Layout of a leg's constants, one row of floats.
O1, Z1, Z2, O2, E1, E2 = 0, 3, 6, 9, 12, 15
DOT, ALONG, CONST = 18, 19, 20  # z1·z2; foot's coordinate along z2 from o2; c without p
LENGTH2, LENGTH3, ANGLE2, ANGLE3, SIGN3 = 21, 22, 23, 24, 25
LOWER, UPPER = 26, 29
SIZE = 32


def constants_of(chain: Chain, links) -> Floats | None:  # type: ignore[no-untyped-def]
    """The constants of a leg's closed form.

    Args:
        chain: The leg.
        links: Its arrays.

    Returns:
        (SIZE,), or None where the leg has no such closed form.
    """
    plain = len(chain.joint_names) == len(chain.moving_names) == 3 and not any(chain.prismatic)
    if not plain or not np.array_equal(chain.coupling, np.eye(3)) or np.any(chain.offset):
        return None
    R, p = np.empty((3, 3)), np.empty(3)
    z, o, J = np.empty((3, 3)), np.empty((3, 3)), np.empty((3, 3))
    foot = np.array(pose(links, np.zeros(3), R, p, z, o))
    columns(links, z, o, *foot, J)
    sign = float(np.sign(z[1] @ z[2]))
    skew = np.linalg.norm(np.cross(z[1], z[2]))
    if skew > PARALLEL or np.linalg.norm(np.cross(z[0], z[1])) < 1e-6:
        return None
    e1 = np.cross(z[1], np.eye(3)[np.abs(z[1]).argmin()])
    e1 /= np.linalg.norm(e1)
    e2 = np.cross(z[1], e1)
    second = np.array([e1 @ (o[2] - o[1]), e2 @ (o[2] - o[1])])
    third = np.array([e1 @ (foot - o[2]), e2 @ (foot - o[2])])
    lengths = np.hypot(*second), np.hypot(*third)
    if min(lengths) < SHORTEST:
        return None
    row = np.empty(SIZE)
    row[O1 : O1 + 3], row[Z1 : Z1 + 3], row[Z2 : Z2 + 3], row[O2 : O2 + 3] = o[0], z[0], z[1], o[1]
    row[E1 : E1 + 3], row[E2 : E2 + 3] = e1, e2
    row[DOT], row[ALONG] = z[0] @ z[1], z[1] @ (foot - o[1])
    row[CONST] = z[1] @ (foot - o[0])
    row[LENGTH2], row[LENGTH3] = lengths
    row[ANGLE2], row[ANGLE3] = np.arctan2(second[1], second[0]), np.arctan2(third[1], third[0])
    row[SIGN3] = sign
    row[LOWER : LOWER + 3], row[UPPER : UPPER + 3] = chain.lower, chain.upper
    return row


@njit(cache=True, inline="always")
def _fit(angle, lower, upper, near):  # type: ignore[no-untyped-def]
    """The turn of an angle inside the limits that is nearest to ``near``; nan when none is."""
    turn = angle - near
    if turn > np.pi or turn < -np.pi:
        angle -= TWO_PI * np.floor(turn / TWO_PI + 0.5)
    if angle < lower:
        if angle < lower - SLACK:
            angle += TWO_PI * np.ceil((lower - SLACK - angle) / TWO_PI)
        else:
            angle = lower
    if angle > upper:
        if angle > upper + SLACK:
            angle -= TWO_PI * np.ceil((angle - upper - SLACK) / TWO_PI)
        else:
            return upper
        if angle < lower - SLACK:
            return np.nan
    return min(max(angle, lower), upper)


@njit(cache=True)
def solve(k, px, py, pz, n0, n1, n2, q):  # type: ignore[no-untyped-def]
    """One target. Fill q with the branch nearest to (n0, n1, n2); False when none is allowed."""
    vx, vy, vz = px - k[0], py - k[1], pz - k[2]
    z1x, z1y, z1z = k[3], k[4], k[5]
    z2x, z2y, z2z = k[6], k[7], k[8]
    height = z1x * vx + z1y * vy + z1z * vz
    wx, wy, wz = z1y * vz - z1z * vy, z1z * vx - z1x * vz, z1x * vy - z1y * vx  # z1 × v
    a = z2x * vx + z2y * vy + z2z * vz - k[18] * height
    b = -(z2x * wx + z2y * wy + z2z * wz)
    c = k[20] - k[18] * height
    square = a * a + b * b
    rest = square - c * c
    if rest < 0.0:
        if rest < -1e-14 * (square + c * c) or square == 0.0:
            return False
        rest = 0.0
    root = np.sqrt(rest)
    ux, uy, uz = vx - height * z1x, vy - height * z1y, vz - height * z1z  # v across z1
    l2, l3, a2, sign = k[21], k[22], k[23], k[25]
    best, found = np.inf, False
    for first in range(2):
        s = root if first == 0 else -root
        if square < 1e-24:
            # The target lies on the first axis, which then is free: stay where it is near.
            q1 = _fit(n0, k[26], k[29], n0)
            cosine, sine = np.cos(q1), np.sin(q1)
        else:
            cosine, sine = (a * c - b * s) / square, (b * c + a * s) / square
            q1 = _fit(np.arctan2(sine, cosine), k[26], k[29], n0)
        if not q1 == q1:
            continue
        move1 = (q1 - n0) * (q1 - n0)
        if move1 >= best:
            continue
        # Turn the target back by q1; coordinates from the second axis, across it.
        tx = k[0] + height * z1x + cosine * ux - sine * wx - k[9]
        ty = k[1] + height * z1y + cosine * uy - sine * wy - k[10]
        tz = k[2] + height * z1z + cosine * uz - sine * wz - k[11]
        x = k[12] * tx + k[13] * ty + k[14] * tz
        y = k[15] * tx + k[16] * ty + k[17] * tz
        distance = x * x + y * y
        bend = (distance - l2 * l2 - l3 * l3) / (2.0 * l2 * l3)
        if bend > 1.0 or bend < -1.0:
            if bend > 1.0 + 1e-13 or bend < -1.0 - 1e-13:
                continue
            bend = 1.0 if bend > 0.0 else -1.0
        fold = np.sqrt(1.0 - bend * bend)
        inner = np.arctan2(fold, bend)
        lead = np.arctan2(l3 * fold, l2 + l3 * bend)
        course = np.arctan2(y, x) - a2
        for second in range(2):
            q3 = inner if second == 0 else -inner
            q2 = course - lead if second == 0 else course + lead
            q3 = _fit(sign * (q3 + a2 - k[24]), k[28], k[31], n2)
            if not q3 == q3:
                continue
            q2 = _fit(q2, k[27], k[30], n1)
            if not q2 == q2:
                continue
            move = move1 + (q2 - n1) * (q2 - n1) + (q3 - n2) * (q3 - n2)
            if move < best:
                best, found = move, True
                q[0], q[1], q[2] = q1, q2, q3
    return found


@njit(cache=True)
def miss(k, px, py, pz, q):  # type: ignore[no-untyped-def]
    """Distance from the foot at q to the target: forward kinematics by the same constants."""
    inner = k[25] * q[2] + k[24]
    x = k[21] * np.cos(k[23]) + k[22] * np.cos(inner)
    y = k[21] * np.sin(k[23]) + k[22] * np.sin(inner)
    c2, s2 = np.cos(q[1]), np.sin(q[1])
    x, y = c2 * x - s2 * y, s2 * x + c2 * y
    along = k[19]
    vx = k[9] + x * k[12] + y * k[15] + along * k[6] - k[0]
    vy = k[10] + x * k[13] + y * k[16] + along * k[7] - k[1]
    vz = k[11] + x * k[14] + y * k[17] + along * k[8] - k[2]
    z1x, z1y, z1z = k[3], k[4], k[5]
    height = z1x * vx + z1y * vy + z1z * vz
    c1, s1 = np.cos(q[0]), np.sin(q[0])
    d = (1.0 - c1) * height
    dx = k[0] + c1 * vx + s1 * (z1y * vz - z1z * vy) + d * z1x - px
    dy = k[1] + c1 * vy + s1 * (z1z * vx - z1x * vz) + d * z1y - py
    dz = k[2] + c1 * vz + s1 * (z1x * vy - z1y * vx) + d * z1z - pz
    return np.sqrt(dx * dx + dy * dy + dz * dz)


@njit(cache=True)
def solve_many(rows, targets, near, q, error, ok):  # type: ignore[no-untyped-def]
    """Legs in turn: target i belongs to leg i modulo the number of rows.

    rows (L, SIZE), targets (N, 3), near (N, 3) or (1, 3) with one leg; fills q (N, 3),
    error (N,), ok (N,). Where no branch is allowed q is nan and error inf.
    """
    legs, single = rows.shape[0], near.shape[0] == 1
    leg = 0
    for i in range(targets.shape[0]):
        h = 0 if single else i
        px, py, pz = targets[i, 0], targets[i, 1], targets[i, 2]
        if solve(rows[leg], px, py, pz, near[h, 0], near[h, 1], near[h, 2], q[i]):
            error[i] = miss(rows[leg], px, py, pz, q[i])
            ok[i] = error[i] <= 1e-9
        else:
            q[i, 0] = q[i, 1] = q[i, 2] = np.nan
            error[i], ok[i] = np.inf, False
        leg += 1
        if leg == legs:
            leg = 0
