"""Kernels: how the body moves over its feet, and how far it may lean."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.locomotion import _state as at
from legwright.mechanics._polygon import hull, margin

QUICK = 18.0
"""Stiffness of the twist's follow-up [1/s]."""
CALM = 6.0
"""Stiffness of the posture's follow-up [1/s]."""
SWAY_SPEED = 0.08
"""Of the shift that keeps the margin [m/s]."""
HUSH, HUSH_TIME = 0.06, 3.0
"""While a foot feels its way down, height, roll and pitch move with this share of their speed, so
that its joints turn evenly and do not stick; for so long at most [s]."""
SPARE = 2e-3
"""The shift aims at so much more than the required margin [m]."""
SOFT = 0.15
"""Share of a foot's room in which the body slows down before the foot runs out of it."""
CREST = 0.45
"""Share of the body's height that a standing foot may be over the others before it rises."""
TOP_SURGE = (1.0, 1.0, 5.0)
"""Largest acceleration of the twist: forward, left [m/s²], turn [rad/s²]."""


@kernel
def turning(roll, pitch, yaw, R):  # type: ignore[no-untyped-def]
    """R (3, 3) of fixed-axis roll, pitch, yaw."""
    cr, sr, cp, sp = math.cos(roll), math.sin(roll), math.cos(pitch), math.sin(pitch)
    cy, sy = math.cos(yaw), math.sin(yaw)
    R[0, 0], R[0, 1], R[0, 2] = cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr
    R[1, 0], R[1, 1], R[1, 2] = sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr
    R[2, 0], R[2, 1], R[2, 2] = -sp, cp * sr, cp * cr


@kernel
def body_pose(state, R, b):  # type: ignore[no-untyped-def]
    """Pose of the body frame in the ground frame: R (3, 3), b (3,)."""
    u, yaw = state.posture, state.place[2]
    turning(u[3], u[4], yaw + u[5], R)
    c, s = math.cos(yaw), math.sin(yaw)
    b[0] = state.place[0] + c * u[0] - s * u[1]
    b[1] = state.place[1] + s * u[0] + c * u[1]
    b[2] = u[2]


@kernel
def drive_twist(state, goal, share, h):  # type: ignore[no-untyped-def]
    """Let the twist follow its goal, and the place follow the twist exactly.

    Source: exponential of a planar twist, Murray, Li & Sastry 1994, sec. 2.3.
    """
    walking = goal.n[at.WALKING] > 0.0
    for k in range(3):
        want = goal.twist[k] * share if walking else 0.0
        pull = QUICK * QUICK * (want - state.twist[k]) - 2.0 * QUICK * state.surge[k]
        state.surge[k] = min(max(state.surge[k] + pull * h, -TOP_SURGE[k]), TOP_SURGE[k])
        state.twist[k] += state.surge[k] * h
        if abs(state.twist[k] - want) < 1e-7 and abs(state.surge[k]) < 1e-5:
            state.twist[k], state.surge[k] = want, 0.0
    vx, vy, w = state.twist[0], state.twist[1], state.twist[2]
    a = w * h
    if abs(a) < 1e-6:
        along, across = h * (1.0 - a * a / 6.0), h * 0.5 * a
    else:
        along, across = h * math.sin(a) / a, h * (1.0 - math.cos(a)) / a
    x, y = along * vx - across * vy, across * vx + along * vy
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    state.place[0] += c * x - s * y
    state.place[1] += s * x + c * y
    state.place[2] += a


@within
def drive_posture(fixed, state, goal, roll, pitch, h):  # type: ignore[no-untyped-def]
    """Let height, lean and shift follow their goals within speed and acceleration limits.

    ``roll`` and ``pitch`` is what the body leans for the ground. It rises over a foot that
    stands high (`CREST`). While the feet could not follow (`foresee`), it stays.
    """
    go, hush = 0.0 if state.clock[at.LATCH] > 0.0 else 1.0, 1.0
    for leg in range(len(state.mode)):
        feels = state.mode[leg] in at.FEELS_DOWN and state.since[leg] < HUSH_TIME
        if feels or (state.mode[leg] == at.BACK and state.left[leg] <= 0.0):
            hush = HUSH
    for k in range(6):
        want = goal.posture[k]
        if k < 2:
            want += state.sway[k]
        elif k == 2:
            want += state.relief[0] + max(0.0, state.relief[5] - CREST * goal.posture[2])
        elif k == 3:
            want += roll
        elif k == 4:
            want += pitch
        top, most = fixed.posture_speed[k], fixed.posture_surge[k]
        v = state.posture_v[k]
        aim = 0.5 * CALM * (want - state.posture[k])
        # never faster than it can brake in the distance that is left
        top = top * hush if k > 1 else top
        aim = min(max(aim, -top), top) * go
        a = min(max(2.0 * CALM * (aim - v), -most), most)
        state.posture_v[k] = v + a * h
        state.posture[k] += state.posture_v[k] * h
        if abs(state.posture[k] - want) < 1e-9 and abs(state.posture_v[k]) < 1e-9:
            state.posture[k], state.posture_v[k] = want, 0.0


@within
def com_over(state, R, b, over):  # type: ignore[no-untyped-def]
    """Centre of mass in the ground frame, ``over`` (3,)."""
    for i in range(3):
        over[i] = b[i]
        for k in range(3):
            over[i] += R[i, k] * state.com[k]


@within
def support(state, legs, x, y):  # type: ignore[no-untyped-def]
    """Gather the standing feet for which ``legs`` (L,) is true; returns their number."""
    n = 0
    for leg in range(len(legs)):
        if legs[leg]:
            x[n], y[n] = state.foot[leg, 0], state.foot[leg, 1]
            n += 1
    return n


@within
def margin_of(state, legs, over):  # type: ignore[no-untyped-def]
    """Static stability margin on the given feet, the centre of mass at ``over``."""
    L = len(legs)
    x, y, order = np.empty(L), np.empty(L), np.empty(2 * L + 1, np.int64)
    n = support(state, legs, x, y)
    return margin(x[:n], y[:n], over[0], over[1], order)


@within
def drawn_in(state, legs, px, py, need):  # type: ignore[no-untyped-def]
    """The point near (px, py) that lies ``need`` inside the support polygon of some feet."""
    L = len(legs)
    x, y = np.empty(L), np.empty(L)
    n = support(state, legs, x, y)
    return inward(x[:n], y[:n], px, py, need)


@kernel
def inward(x, y, px, py, need):  # type: ignore[no-untyped-def]
    """The point near (px, py) that lies ``need`` inside the hull of the points (x, y).

    Where the polygon is too small for that, a point about its middle.

    Source: cyclic projection onto half-planes (Gubin, Polyak & Raik 1967, from memory).
    """
    order = np.empty(2 * len(x) + 1, np.int64)
    count = hull(x, y, order)
    if count < 3:
        return px, py
    for _ in range(12):
        worst = 0.0
        for i in range(count):
            a, b = order[i], order[(i + 1) % count]
            ex, ey = x[b] - x[a], y[b] - y[a]
            size = math.sqrt(ex * ex + ey * ey)
            inside = (ex * (py - y[a]) - ey * (px - x[a])) / size
            if inside < need:
                push = (need - inside) / size
                px, py = px - ey * push, py + ex * push
                worst = max(worst, need - inside)
        if worst < 1e-5:
            break
    return px, py


@within
def stride_share(fixed, state, goal):  # type: ignore[no-untyped-def]
    """Share of the twist that the standing feet have room for, 0 to 1."""
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    share = 1.0
    for leg in range(len(state.mode)):
        if state.mode[leg] != at.STAND and state.mode[leg] != at.LAND:
            continue
        gx, gy = state.foot[leg, 0] - state.place[0], state.foot[leg, 1] - state.place[1]
        x, y = c * gx + s * gy, -s * gx + c * gy
        rx, ry = x - fixed.neutral[leg, 0], y - fixed.neutral[leg, 1]
        r = math.sqrt(rx * rx + ry * ry)
        if r < 1e-6:
            continue
        ux, uy = -goal.twist[0] + goal.twist[2] * y, -goal.twist[1] - goal.twist[2] * x
        if rx * ux + ry * uy > 0.0:
            room = fixed.room[leg]
            share = min(share, max(0.0, (room - r) / (SOFT * room)))
    return share
