"""Kernels: where the feet of legs lie that are built with deviations, and what they stand on."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.mechanics._vectors import cross, dot, plus, row, times, turned

BLOCK = 256
"""Built legs that are moved at a time; what they need stays near the processor."""
SMALL = 0.01
"""Squared angle up to which a turn is reckoned by its series, exact to rounding [rad²]."""
EDGE = 1e-9
"""Share of the weight by which the centre of mass may lie outside a triangle that bears."""


@within
def _series(x):  # type: ignore[no-untyped-def]
    """Sine of an angle over it, and one less its cosine over its square ``x``: both by series.

    Factors, not divisors: half the time of the kernel.
    """
    first = 1.0 - x * (1.0 / 72.0)
    first = 1.0 - x * (1.0 / 20.0) * (1.0 - x * (1.0 / 42.0) * first)
    first = 1.0 - x * (1.0 / 6.0) * first
    second = 1.0 - x * (1.0 / 90.0)
    second = 1.0 - x * (1.0 / 30.0) * (1.0 - x * (1.0 / 56.0) * second)
    return first, 0.5 - x * (1.0 / 24.0) * second


@within
def _past_joint(move, moved, seat, seated, shift, slip, turn, ends, count):  # type: ignore[no-untyped-def]
    """Moves points ``ends`` (3, BLOCK) of many legs from behind a joint into the frame before it.

    Number by number and without a branch, so that the processor moves several legs at a time.
    """
    m0, m1, m2, m3, m4, m5 = move[0], move[1], move[2], move[3], move[4], move[5]
    m6, m7, m8, mx, my, mz = move[6], move[7], move[8], moved[0], moved[1], moved[2]
    s0, s1, s2, s3, s4, s5 = seat[0], seat[1], seat[2], seat[3], seat[4], seat[5]
    s6, s7, s8, sx, sy, sz = seat[6], seat[7], seat[8], seated[0], seated[1], seated[2]
    X, Y, Z = ends[0], ends[1], ends[2]
    turn_x, turn_y, turn_z = turn[0], turn[1], turn[2]
    slip_x, slip_y, slip_z = slip[0], slip[1], slip[2]
    shift_x, shift_y, shift_z = shift[0], shift[1], shift[2]
    for n in range(count):
        x, y, z = X[n], Y[n], Z[n]
        p = (
            m0 * x + m1 * y + m2 * z + mx,
            m3 * x + m4 * y + m5 * z + my,
            m6 * x + m7 * y + m8 * z + mz,
        )
        w = (turn_x[n], turn_y[n], turn_z[n])
        first, second = _series(dot(w, w))
        once = cross(w, p)
        p = plus(p, plus(times(once, first), times(cross(w, once), second)))
        x, y, z = plus(p, (slip_x[n], slip_y[n], slip_z[n]))
        X[n] = s0 * x + s1 * y + s2 * z + sx + shift_x[n]
        Y[n] = s3 * x + s4 * y + s5 * z + sy + shift_y[n]
        Z[n] = s6 * x + s7 * y + s8 * z + sz + shift_z[n]


@within
def _turned_by(w, p):  # type: ignore[no-untyped-def]
    """Point ``p`` turned by the rotation vector ``w`` (Rodrigues)."""
    x = dot(w, w)
    if x < SMALL:
        first, second = _series(x)
    else:
        angle = math.sqrt(x)
        first, half = math.sin(angle) / angle, math.sin(0.5 * angle) / angle
        second = 2.0 * half * half
    once = cross(w, p)
    return plus(p, plus(times(once, first), times(cross(w, once), second)))


@within
def _spun(turns, i, p):  # type: ignore[no-untyped-def]
    """Direction ``p`` out of frame ``i``, given by a rotation matrix (9,)."""
    return (
        turns[i, 0] * p[0] + turns[i, 1] * p[1] + turns[i, 2] * p[2],
        turns[i, 3] * p[0] + turns[i, 4] * p[1] + turns[i, 5] * p[2],
        turns[i, 6] * p[0] + turns[i, 7] * p[1] + turns[i, 8] * p[2],
    )


@within
def _carried(turns, shifts, i, p):  # type: ignore[no-untyped-def]
    """Point ``p`` out of frame ``i``, given by a rotation matrix (9,) and a shift (3,)."""
    return plus(_spun(turns, i, p), row(shifts, i))


@within
def _unit(k):  # type: ignore[no-untyped-def]
    """The unit vector along axis ``k``."""
    return 1.0 if k == 0 else 0.0, 1.0 if k == 1 else 0.0, 1.0 if k == 2 else 0.0


@within
def _moved(axes, slides, angles, turns, shifts):  # type: ignore[no-untyped-def]
    """Motions of joints: fills rotation matrices (M, 9) and shifts (M, 3)."""
    for i in range(angles.shape[0]):
        axis = row(axes, i)
        s, c = (0.0, 1.0) if slides[i] else (math.sin(angles[i]), math.cos(angles[i]))
        for k in range(3):
            column = turned(_unit(k), axis, s, c)
            shifts[i, k] = axis[k] * angles[i] if slides[i] else 0.0
            for j in range(3):
                turns[i, 3 * j + k] = column[j]


@within
def _onto(turns, shifts, i, by_turns, by, out_turns, out, j):  # type: ignore[no-untyped-def]
    """Frame ``j`` of ``out``: frame ``i`` moved on by what is stated in it."""
    here = _carried(turns, shifts, i, row(by, i))
    for k in range(3):
        out[j, k] = here[k]
        way = _spun(turns, i, (by_turns[i, k], by_turns[i, 3 + k], by_turns[i, 6 + k]))
        for m in range(3):
            out_turns[j, 3 * m + k] = way[m]


@kernel
def foot_arms(  # type: ignore[no-untyped-def]
    way, joint, direction, seat_turns, seats, axes, slides, foot, angles, arms, feet
):
    """Derivatives of the foot point by deviations, in N poses.

    Args:
        way: As for `built_feet`, and so are those up to ``foot``.
        joint: (P,)
        direction: (P, 3)
        seat_turns: (M, 9)
        seats: (M, 3)
        axes: (M, 3)
        slides: (M,)
        foot: (3,)
        angles: (N, M) positions of the joints [rad or m].
        arms: (N, 3, P), filled.
        feet: (N, 3), filled: the foot points.
    """
    N, M = angles.shape
    move_turns, moves = np.empty((M, 9)), np.empty((M, 3))
    before, starts = np.zeros((M + 1, 9)), np.zeros((M + 1, 3))  # each joint's frame as drawn
    after, ends = np.empty((M, 9)), np.empty((M, 3))  # and what the joint turns
    for k in range(3):
        before[0, 4 * k] = 1.0
    for n in range(N):
        _moved(axes, slides, angles[n], move_turns, moves)
        for i in range(M):
            _onto(before, starts, i, seat_turns, seats, after, ends, i)
            _onto(after, ends, i, move_turns, moves, before, starts, i + 1)
        end = _carried(before, starts, M, (foot[0], foot[1], foot[2]))
        for k in range(3):
            feet[n, k] = end[k]
        for one in range(way.shape[0]):
            at = joint[one]
            if way[one] == 0:
                along = _spun(before, at, row(direction, one))
            else:
                along = _spun(after, at, row(direction, one))
            if way[one] == 2:
                along = cross(along, plus(end, times(row(ends, at), -1.0)))
            for k in range(3):
                arms[n, k, one] = along[k]


@kernel
def built_feet(  # type: ignore[no-untyped-def]
    way, joint, direction, seat_turns, seats, axes, slides, foot, angles, draws, low, span, meant,
    out, far,
):  # fmt: skip
    """Foot points of built legs, from where they are meant.

    Args:
        way: (P,) 0: shifts a joint, or the foot, in the frame before it; 1: shifts, 2: turns what
            a joint carries, in its own frame.
        joint: (P,) which joint; M for the foot.
        direction: (P, 3)
        seat_turns: (M, 9) orientations of the joint frames in the frames before them.
        seats: (M, 3) their places.
        axes: (M, 3) unit axes of the joints.
        slides: (M,) whether a joint slides.
        foot: (3,) in the last joint's frame.
        angles: (1, M) positions of the joints [rad or m].
        draws: (P, N) one row a deviation; leg n deviates by low + span times its draw.
        low: (P,) [m or rad]
        span: (P,) [m or rad]
        meant: (3,) [m]
        out: (N, 3), filled: foot points less that.
        far: (N,), filled: their lengths.
    """
    P, N = draws.shape
    M = seats.shape[0]
    move_turns, moves = np.empty((M, 9)), np.empty((M, 3))
    _moved(axes, slides, angles[0], move_turns, moves)
    off, ends = np.empty((M + 1, 3, 3, BLOCK)), np.empty((3, BLOCK))
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
        for k in range(3):
            end = off[M, 0, k]
            for n in range(count):
                ends[k, n] = foot[k] + end[n]
        for i in range(M - 1, -1, -1):
            shift, slip, turn = off[i, 0], off[i, 1], off[i, 2]
            most = 0.0
            for n in range(count):
                most = max(most, turn[0, n] ** 2 + turn[1, n] ** 2 + turn[2, n] ** 2)
            if most < SMALL:
                _past_joint(
                    move_turns[i], moves[i], seat_turns[i], seats[i],
                    shift, slip, turn, ends, count,
                )  # fmt: skip
                continue
            for n in range(count):
                p = _carried(move_turns, moves, i, (ends[0, n], ends[1, n], ends[2, n]))
                p = _turned_by((turn[0, n], turn[1, n], turn[2, n]), p)
                p = plus(p, (slip[0, n], slip[1, n], slip[2, n]))
                p = _carried(seat_turns, seats, i, p)
                p = plus(p, (shift[0, n], shift[1, n], shift[2, n]))
                ends[0, n], ends[1, n], ends[2, n] = p
        for n in range(count):
            x, y, z = ends[0, n] - meant[0], ends[1, n] - meant[1], ends[2, n] - meant[2]
            out[start + n, 0], out[start + n, 1], out[start + n, 2] = x, y, z
            far[start + n] = math.sqrt(x * x + y * y + z * z)


@kernel
def stood(  # type: ignore[no-untyped-def]
    feet, contact, com, offsets, triples, thin, slack, again, steep, middle, gap
):
    """On which three feet robots stand, and how.

    Args:
        feet: (B, L, 3) feet as meant, in B poses.
        contact: (B, L) which of them may bear.
        com: (B, 2) centre of mass in plan.
        offsets: (B, N, L, 3) what the feet of N robots are off; (B, N, L, 1) along z alone.
        triples: (T, 3) feet that may bear together, in the order in which they are tried.
        thin: Twice the area of a triangle of feet below which it bears nothing [m²].
        slack: By how much a foot may lie under the ground [m].
        again: Whether what bore the robot before is tried first: it likely bears this one too.
        steep: (B, N), filled: slope of the ground; nan where no feet bear the centre of mass.
        middle: (B, N), filled: its height under the centre of mass.
        gap: (B, N), filled: largest height of a foot over it.
    """
    B, N, plan = offsets.shape[0], offsets.shape[1], offsets.shape[3] == 3
    L = feet.shape[1]
    kept, built = np.empty(triples.shape[0], dtype=np.int64), np.empty((L, 3))
    for b in range(B):
        last, count = -1, 0
        for n in range(N):
            steep[b, n], middle[b, n], gap[b, n] = math.nan, math.nan, math.nan
            for leg in range(L):
                if plan or n == 0:
                    for k in range(2):
                        built[leg, k] = feet[b, leg, k] + (offsets[b, n, leg, k] if plan else 0.0)
                built[leg, 2] = feet[b, leg, 2] + offsets[b, n, leg, 2 if plan else 0]
            if n == 0:
                for t in range(triples.shape[0]):
                    i, j, k = triples[t, 0], triples[t, 1], triples[t, 2]
                    bear = contact[b, i] and contact[b, j] and contact[b, k]
                    if bear and (plan or _holds(built, i, j, k, com[b], thin)):
                        kept[count] = t
                        count += 1
            for c in range(-1, count):
                t = last if c < 0 else kept[c]
                if t < 0:
                    continue
                i, j, k = triples[t, 0], triples[t, 1], triples[t, 2]
                if plan and not _holds(built, i, j, k, com[b], thin):
                    continue
                s, m, g = _plane(built, contact[b], i, j, k, com[b], slack)
                if s >= 0.0:
                    steep[b, n], middle[b, n], gap[b, n] = s, m, g
                    last = t if again else -1
                    break


@within
def _holds(built, i, j, k, com, thin):  # type: ignore[no-untyped-def]
    """Whether the centre of mass lies over the triangle of three feet."""
    ux, uy = built[j, 0] - built[i, 0], built[j, 1] - built[i, 1]
    vx, vy = built[k, 0] - built[i, 0], built[k, 1] - built[i, 1]
    wx, wy = com[0] - built[i, 0], com[1] - built[i, 1]
    det = ux * vy - uy * vx
    sign, size = (1.0 if det > 0.0 else -1.0), abs(det)
    first, second = sign * (wx * vy - wy * vx), sign * (ux * wy - uy * wx)
    least = -EDGE * size
    return size > thin and first >= least and second >= least and first + second <= size - least


@within
def _plane(built, contact, i, j, k, com, slack):  # type: ignore[no-untyped-def]
    """Of the ground under three feet: slope, height under the centre of mass, largest gap.

    The slope is -1 where another foot lies under it.
    """
    a = row(built, i)
    ux, uy, uz = built[j, 0] - a[0], built[j, 1] - a[1], built[j, 2] - a[2]
    vx, vy, vz = built[k, 0] - a[0], built[k, 1] - a[1], built[k, 2] - a[2]
    det = ux * vy - uy * vx
    sx, sy, most = (uz * vy - uy * vz) / det, (ux * vz - uz * vx) / det, 0.0
    for leg in range(built.shape[0]):
        if contact[leg] and leg not in (i, j, k):
            over = built[leg, 2] - a[2] - sx * (built[leg, 0] - a[0]) - sy * (built[leg, 1] - a[1])
            if over < -slack:
                return -1.0, 0.0, 0.0
            most = max(most, over)
    steep = math.sqrt(sx * sx + sy * sy)
    return steep, a[2] + sx * (com[0] - a[0]) + sy * (com[1] - a[1]), most
