"""Kernel: what a motion of a body with serial legs needs, its samples side by side.

The Newton-Euler recursion of `_recursion`, its referee, all in body axes. Numbers lie in rows, one
for each number and a place in it for each sample, so that the compiler works on several samples at
once. For that it must see how long rows are, and all that is done in a loop: nothing is called
that is not put in place, and joints that slide go the way of those that turn, times 0 or 1.
"""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, placed, within
from legwright.mechanics._recursion import into, matrix, out_of, product
from legwright.mechanics._vectors import cross, dot, plus, row, times

BLOCK = 16
"""Samples that are worked on at once; the last is taken again where there are fewer."""


@within
def vector(rows, k, i):  # type: ignore[no-untyped-def]
    """Three rows from ``k`` on, at a place."""
    return rows[k, i], rows[k + 1, i], rows[k + 2, i]


@within
def put(rows, k, i, v):  # type: ignore[no-untyped-def]
    """A vector into three rows."""
    rows[k, i], rows[k + 1, i], rows[k + 2, i] = v


@within
def frame(rows, i):  # type: ignore[no-untyped-def]
    """The first nine rows at a place: an orientation."""
    return (
        rows[0, i], rows[1, i], rows[2, i], rows[3, i], rows[4, i], rows[5, i], rows[6, i],
        rows[7, i], rows[8, i],
    )  # fmt: skip


@within
def outputs(T, J, L):  # type: ignore[no-untyped-def]
    """Arrays for `lanes` to fill."""
    return (
        np.empty((J, T)), np.empty((T, 6)), np.empty((T, L, 3)), np.empty((J, 3, T)),
        np.empty((T, 11)),
    )  # fmt: skip


@kernel
def lanes(packed, q, moves, twist, felt, rates, out):  # type: ignore[no-untyped-def]
    """Inverse dynamics without contact.

    Args:
        packed: The robot, `Packed`.
        q: (T, J) drive positions.
        moves: What rates are found from, see `locomotion.plan`: (T, L, 3) velocity and (T, L, 3)
            acceleration of the feet in the body frame; (L,) legs whose rates are periodic
            differences of their positions instead; cycle time, 0 where all rates are given; and
            the determinant below which rates found from feet mean nothing.
        twist: (T, 6) velocity of the body origin and angular velocity.
        felt: (T, 6) acceleration of the body origin less gravity, and angular acceleration.
        rates: (J, T) velocities and (J, T) accelerations of the drives; given or filled.
        out: Filled: torque (J, T); wrench (T, 6) on the body frame's origin; feet (T, L, 3);
            jacobian (J, 3, T), of the foot of the drive's leg; gathered (T, 11): mass, centre of
            mass (3), linear momentum (3), angular momentum about the centre of mass (3), kinetic
            energy.
    """
    T, L, M, n = q.shape[0], packed.foot.shape[0], packed.slides.shape[0], packed.coupling.shape[1]
    off, cycle, singular = moves[2], moves[3], moves[4]
    blocks, solves = (T + BLOCK - 1) // BLOCK, cycle > 0.0
    least = np.empty(L)
    for leg in range(L):
        least[leg] = -np.inf if off[leg] or not solves else np.inf
    # a leg on its way out, what its drives do, numbers of all joints, sums of all
    S, D, W = np.empty((24, BLOCK)), np.empty((6 * n, BLOCK)), np.empty((17, BLOCK))
    own = np.empty((blocks * (M + 1), 24, BLOCK))
    for block in range(blocks):
        at, base = block * BLOCK, block * (M + 1)
        for leg in range(L):
            span = _span(packed, leg)
            _placed(packed, leg, span, q, at, base, S, own, out)
            if least[leg] > singular:
                det = _solved(packed, leg, span, moves, at, base, S, D, own, rates)
                least[leg] = min(least[leg], det)
    for leg in range(L):
        if solves and not least[leg] > singular:
            _differences(packed, leg, q, cycle, rates)
    for block in range(blocks):
        at, base = block * BLOCK, block * (M + 1)
        trunk = own[base + M]
        for k in range(17):
            for i in range(BLOCK):
                trunk[k, i], W[k, i] = (1.0 if k < 9 and k % 4 == 0 else 0.0), 0.0
        for leg in range(-1, L):  # the trunk is a leg that has one joint, and that no drive
            span = _span(packed, leg) if leg >= 0 else (M, M + 1, 0, 0)
            _carried(packed, span, twist, felt, at, base, S, D, own, rates, W)
            _returned(packed, span, at, base, S, D, own, W, out)
        _gathered(at, W, out)


@within
def _span(packed, leg):  # type: ignore[no-untyped-def]
    """First joint of a leg and first beyond it, and the same of its drives."""
    first, column = packed.first, packed.column
    return first[leg], first[leg + 1], column[leg], column[leg + 1]


@placed
def _placed(packed, leg, span, q, at, base, S, own, out):  # type: ignore[no-untyped-def]
    """Places the joints of a leg; writes where its foot is.

    Of each joint ``own`` has the orientation (0-8), origin (9-11), way from the joint before
    (12-14) and what its motion does to the foot (15-17).
    """
    feet, last = out[2], q.shape[0] - 1
    begin, end, c0, c1 = span
    n, tip = c1 - c0, row(packed.foot, leg)
    for k in range(12):
        for i in range(BLOCK):
            S[k, i] = 1.0 if k < 9 and k % 4 == 0 else 0.0
    for m in range(begin, end):
        slid = 1.0 if packed.slides[m] else 0.0
        for i in range(BLOCK):
            t, s = min(at + i, last), packed.offset[m]
            for k in range(n):
                s += packed.coupling[m, k] * q[t, c0 + k]
            angle = (1.0 - slid) * s
            S[12, i], S[13, i], S[14, i] = slid * s, math.sin(angle), math.cos(angle)
        turn, shift, mine = matrix(packed.turn, m), row(packed.shift, m), own[base + m]
        for i in range(BLOCK):
            F = frame(S, i)
            r, F = out_of(F, shift), product(F, turn)
            r = plus(r, times((F[2], F[5], F[8]), S[12, i]))
            p = plus(vector(S, 9, i), r)
            s, c = S[13, i], S[14, i]
            x = c * F[0] + s * F[1], c * F[1] - s * F[0], F[2]
            y = c * F[3] + s * F[4], c * F[4] - s * F[3], F[5]
            z = c * F[6] + s * F[7], c * F[7] - s * F[6], F[8]
            put(S, 0, i, x)
            put(S, 3, i, y)
            put(S, 6, i, z)
            put(S, 9, i, p)
            put(mine, 0, i, x)
            put(mine, 3, i, y)
            put(mine, 6, i, z)
            put(mine, 9, i, p)
            put(mine, 12, i, r)
    for i in range(BLOCK):
        put(S, 0, i, plus(vector(S, 9, i), out_of(frame(S, i), tip)))
    for t in range(at, min(at + BLOCK, last + 1)):
        for k in range(3):
            feet[t, leg, k] = S[k, t - at]
    for m in range(begin, end):
        slid, mine = 1.0 if packed.slides[m] else 0.0, own[base + m]
        for i in range(BLOCK):
            z = mine[2, i], mine[5, i], mine[8, i]
            arm = cross(z, plus(vector(S, 0, i), times(vector(mine, 9, i), -1.0)))
            put(mine, 15, i, plus(times(arm, 1.0 - slid), times(z, slid)))


@placed
def _solved(packed, leg, span, moves, at, base, S, D, own, rates):  # type: ignore[no-untyped-def]
    """Rates of a leg of three drives from its foot's; see `locomotion._rates`.

    Returns the least |det J| over the product of its columns' lengths.
    """
    velocity, push, (qd, qdd) = moves[0], moves[1], rates
    begin, end, c0, _ = span
    stop = min(at + BLOCK, velocity.shape[0])
    for i in range(BLOCK):
        t = min(at + i, stop - 1)
        for k in range(12):
            S[k, i] = 0.0
        for k in range(3):
            S[12 + k, i], S[15 + k, i] = velocity[t, leg, k], push[t, leg, k]
    for m in range(begin, end):
        mine = own[base + m]
        for c in range(3):
            rate = packed.coupling[m, c]
            for k in range(3):
                for i in range(BLOCK):
                    S[3 * c + k, i] += rate * mine[15 + k, i]
    for i in range(BLOCK):
        u, v, w = vector(S, 0, i), vector(S, 3, i), vector(S, 6, i)
        vw, wu, uv = cross(v, w), cross(w, u), cross(u, v)
        det = dot(u, vw)
        scale = 1.0 / det if det != 0.0 else 0.0
        size = math.sqrt(dot(u, u) * dot(v, v) * dot(w, w))
        S[18, i], S[19, i] = abs(det), max(size, 1e-300)
        vw, wu, uv = times(vw, scale), times(wu, scale), times(uv, scale)
        way = vector(S, 12, i)
        put(D, 0, i, (dot(vw, way), dot(wu, way), dot(uv, way)))
        put(S, 0, i, vw)
        put(S, 3, i, wu)
        put(S, 6, i, uv)
    # J' q': sum over pairs of joints of (axis_inner × J_outer) q'_inner q'_outer
    for m in range(end - 1, begin - 1, -1):
        one, two, three = row(packed.coupling, m)
        turns, mine = 0.0 if packed.slides[m] else 1.0, own[base + m]
        for i in range(BLOCK):
            rate = one * D[0, i] + two * D[1, i] + three * D[2, i]
            z = mine[2, i], mine[5, i], mine[8, i]
            moved, beyond = times(vector(mine, 15, i), rate), vector(S, 9, i)
            bend = times(cross(z, plus(moved, times(beyond, 2.0))), turns * rate)
            put(S, 9, i, plus(beyond, moved))
            put(S, 15, i, plus(vector(S, 15, i), times(bend, -1.0)))
    for i in range(BLOCK):
        way = vector(S, 15, i)
        vw, wu, uv = vector(S, 0, i), vector(S, 3, i), vector(S, 6, i)
        put(D, 3, i, (dot(vw, way), dot(wu, way), dot(uv, way)))
    least = np.inf
    for i in range(stop - at):
        least = min(least, S[18, i] / S[19, i])
    for k in range(3):
        for t in range(at, stop):
            qd[c0 + k, t], qdd[c0 + k, t] = D[k, t - at], D[3 + k, t - at]
    return least


@within
def _differences(packed, leg, q, cycle, rates):  # type: ignore[no-untyped-def]
    """Periodic differences of a leg's positions."""
    qd, qdd = rates
    T = q.shape[0]
    step = cycle / T
    for c in range(packed.column[leg], packed.column[leg + 1]):
        for t in range(T):
            ahead, behind = q[(t + 1) % T, c], q[t - 1, c]
            qd[c, t] = (ahead - behind) / (2.0 * step)
            qdd[c, t] = (ahead - 2.0 * q[t, c] + behind) / (step * step)


@placed
def _carried(packed, span, twist, felt, at, base, S, D, own, rates, W):  # type: ignore[no-untyped-def]
    """Force (18-20) and moment (21-23) about the body origin that each joint's solid needs.

    Adds to the sums ``W``: wrench (0-5), and what is gathered (6-16).
    """
    qd, qdd = rates
    begin, end, c0, c1 = span
    n, last, M = c1 - c0, twist.shape[0] - 1, packed.slides.shape[0]
    for i in range(BLOCK):
        t = min(at + i, last)
        put(S, 0, i, (twist[t, 3], twist[t, 4], twist[t, 5]))
        put(S, 3, i, (felt[t, 3], felt[t, 4], felt[t, 5]))
        put(S, 6, i, row(twist, t))
        put(S, 9, i, row(felt, t))
        for k in range(n):
            D[2 * k, i], D[2 * k + 1, i] = qd[c0 + k, t], qdd[c0 + k, t]
    for m in range(begin, end):
        for i in range(BLOCK):
            S[12, i] = S[13, i] = 0.0
        for k in range(n):
            rate = packed.coupling[m, k]
            for i in range(BLOCK):
                S[12, i] += rate * D[2 * k, i]
                S[13, i] += rate * D[2 * k + 1, i]
        mass, com, inertia = packed.mass[m], row(packed.com, m), matrix(packed.inertia, m)
        slid, mine = 1.0 if m < M and packed.slides[m] else 0.0, own[base + m]
        for i in range(BLOCK):
            w, wd, v, a = vector(S, 0, i), vector(S, 3, i), vector(S, 6, i), vector(S, 9, i)
            F, r, z = frame(mine, i), vector(mine, 12, i), (mine[2, i], mine[5, i], mine[8, i])
            turns, rushes = (1.0 - slid) * S[12, i], (1.0 - slid) * S[13, i]
            slides, urges = slid * S[12, i], slid * S[13, i]
            whirl, lean = cross(w, r), cross(w, z)
            v = plus(plus(v, whirl), times(z, slides))
            a = plus(a, plus(cross(wd, r), cross(w, whirl)))
            a = plus(a, plus(times(z, urges), times(lean, 2.0 * slides)))
            wd = plus(wd, plus(times(z, rushes), times(lean, turns)))
            w = plus(w, times(z, turns))
            put(S, 0, i, w)
            put(S, 3, i, wd)
            put(S, 6, i, v)
            put(S, 9, i, a)
            r = out_of(F, com)
            whirl, c = cross(w, r), plus(vector(mine, 9, i), r)
            v, a = plus(v, whirl), plus(a, plus(cross(wd, r), cross(w, whirl)))
            inner = into(F, w)
            spin = out_of(inertia, inner)
            net = plus(out_of(inertia, into(F, wd)), cross(inner, spin))
            force, push = times(a, mass), times(v, mass)
            put(mine, 18, i, force)
            put(mine, 21, i, plus(out_of(F, net), cross(c, force)))
            W[6, i] += mass
            put(W, 7, i, plus(vector(W, 7, i), times(c, mass)))
            put(W, 10, i, plus(vector(W, 10, i), push))
            put(W, 13, i, plus(vector(W, 13, i), plus(out_of(F, spin), cross(c, push))))
            W[16, i] += 0.5 * (dot(push, v) + dot(inner, spin))


@placed
def _returned(packed, span, at, base, S, D, own, W, out):  # type: ignore[no-untyped-def]
    """Torques of a leg's drives and its Jacobian; adds its share of the wrench to ``W``."""
    torque, jacobian = out[0], out[3]
    begin, end, c0, c1 = span
    n, stop, M = c1 - c0, min(at + BLOCK, torque.shape[1]), packed.slides.shape[0]
    for k in range(4 * n):
        for i in range(BLOCK):
            D[k, i] = 0.0
    for k in range(6):
        for i in range(BLOCK):
            S[k, i] = 0.0
    for m in range(end - 1, begin - 1, -1):
        slides, mine = m < M and packed.slides[m], own[base + m]
        for i in range(BLOCK):
            f = plus(vector(S, 0, i), vector(mine, 18, i))
            n_m = plus(vector(S, 3, i), vector(mine, 21, i))
            z, p = (mine[2, i], mine[5, i], mine[8, i]), vector(mine, 9, i)
            put(S, 0, i, f)
            put(S, 3, i, n_m)
            S[6, i] = dot(z, f) if slides else dot(z, plus(n_m, cross(f, p)))
        for k in range(n):
            rate = packed.coupling[m, k]
            for i in range(BLOCK):
                D[4 * k, i] += rate * S[6, i]
                for x in range(3):
                    D[4 * k + 1 + x, i] += rate * mine[15 + x, i]
    for k in range(n):
        for t in range(at, stop):
            torque[c0 + k, t] = D[4 * k, t - at]
            for x in range(3):
                jacobian[c0 + k, x, t] = D[4 * k + 1 + x, t - at]
    for k in range(6):
        for i in range(BLOCK):
            W[k, i] += S[k, i]


@within
def _gathered(at, W, out):  # type: ignore[no-untyped-def]
    """Wrench and sums of the whole robot, from their rows."""
    for t in range(at, min(at + BLOCK, out[1].shape[0])):
        wrench, total, i = out[1][t], out[4][t], t - at
        for k in range(6):
            wrench[k] = W[k, i]
        for k in range(11):
            total[k] = W[6 + k, i]
        if total[0] > 0.0:
            for k in range(3):
                total[1 + k] /= total[0]
            about = cross((total[1], total[2], total[3]), (total[4], total[5], total[6]))
            for k in range(3):
                total[7 + k] -= about[k]
