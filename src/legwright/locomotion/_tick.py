"""Kernel: one control step."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from legwright.locomotion import _state as at
from legwright.locomotion._body import (
    SPARE,
    SWAY_SPEED,
    body_pose,
    com_over,
    drawn_in,
    drive_posture,
    drive_twist,
    margin_of,
    stride_share,
)
from legwright.locomotion._limb import follow, foot_of
from legwright.locomotion._swings import FIRM, fly, lift_off, settle
from legwright.locomotion._terrain import FOLLOW, ground_at, survey
from legwright.mechanics._recursion import recursion

HOLD_RATE = 8.0
"""How fast the clock stops and starts again [1/s]."""
AHEAD = 0.45
"""The body leans for a foot that will lift within this time [s]."""
FORESIGHT = 0.3
"""How far ahead the reach of the standing feet is watched [s]."""
WATCH = 0.018
"""How often [s]."""
STAY = 1.0
"""The body stays this long where going on would cost a foot its place [s]."""
BRAKING = 0.35
"""Share of the acceleration limit with which a joint brakes before its stop."""
LOST = 2e-5
"""A foot this far from its place has lost it [m]."""
FULL = 0.9
"""Share of a joint's speed limit that the walk uses; beyond it, time itself is slowed."""
PACES = (3.0, 0.0, -3.0, -6.0, -12.0, -24.0, 8.0)
"""How fast time may be released or slowed, as tried in turn [1/s]."""
SLOWEST = 0.02
"""Time never stands quite still."""


@njit(cache=True)
def _local(state, goal, leg):  # type: ignore[no-untyped-def]
    return (state.clock[at.PHASE] - goal.phases[leg]) % 1.0


@njit(cache=True)
def take_aim(fixed, state, goal, leg, left):  # type: ignore[no-untyped-def]
    """Aim a foot half a stance ahead of its neutral place, where the body will be by then."""
    if goal.n[at.OP] == at.OP_PLACE and leg == int(goal.n[at.STEP]):
        nx, ny, ox, oy, t = goal.n[at.AX], goal.n[at.AY], 0.0, 0.0, 0.0
    elif goal.n[at.OP] == at.OP_HOLD and leg == int(goal.n[at.STEP]):
        return
    else:
        nx, ny = fixed.neutral[leg, 0], fixed.neutral[leg, 1]
        half = 0.5 * goal.n[at.DUTY] * goal.n[at.CYCLE]
        if goal.n[at.WALKING] <= 0.0:
            half = 0.0
        ox = (goal.twist[0] - goal.twist[2] * ny) * half
        oy = (goal.twist[1] + goal.twist[2] * nx) * half
        size, most = math.sqrt(ox * ox + oy * oy), (1.0 - 0.3) * fixed.room[leg]
        if size > most:
            ox, oy = ox * most / size, oy * most / size
        t = left
    yaw = state.place[2] + t * state.twist[2]
    c, s = math.cos(yaw), math.sin(yaw)
    c0, s0 = math.cos(state.place[2]), math.sin(state.place[2])
    x, y = nx + ox, ny + oy
    state.aim[leg, 0] = (
        state.place[0] + t * (c0 * state.twist[0] - s0 * state.twist[1]) + c * x - s * y
    )
    state.aim[leg, 1] = (
        state.place[1] + t * (s0 * state.twist[0] + c0 * state.twist[1]) + s * x + c * y
    )


@njit(cache=True)
def _expected(state, goal, leg):  # type: ignore[no-untyped-def]
    """Height at which a foot is expected to meet the ground."""
    if goal.n[at.FELT] > 0.0:
        return ground_at(state, state.aim[leg, 0], state.aim[leg, 1])
    return 0.0


@njit(cache=True)
def _standing(state, legs):  # type: ignore[no-untyped-def]
    count = 0
    for leg in range(len(legs)):
        legs[leg] = state.mode[leg] == at.STAND or state.mode[leg] == at.LAND
        count += legs[leg]
    return count


@njit(cache=True)
def _wants(state, goal, leg, ahead):  # type: ignore[no-untyped-def]
    """Whether a standing foot is to lift now, or within the share ``ahead`` of the cycle."""
    if state.mode[leg] != at.STAND or state.posture[2] - state.relief[0] < goal.n[at.LOWEST]:
        return False
    if leg == int(goal.n[at.STEP]):
        return True
    if goal.n[at.WALKING] <= 0.0 or goal.n[at.STEP] >= 0.0:
        return False
    local = _local(state, goal, leg)
    if local >= goal.n[at.DUTY]:
        return state.done[leg] == 0.0
    return local + ahead >= goal.n[at.DUTY]


@njit(cache=True)
def _lean(state, goal, over, flying, h):  # type: ignore[no-untyped-def]
    """Move the sway towards where the centre of mass keeps the margin."""
    L = len(state.mode)
    legs = np.empty(L, np.bool_)
    standing = _standing(state, legs)
    # Where the centre of mass would be without sway.
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    dx, dy = state.posture[0] - goal.posture[0], state.posture[1] - goal.posture[1]
    wx = over[0] - (c * dx - s * dy)
    wy = over[1] - (s * dx + c * dy)
    need = goal.n[at.MARGIN] + SPARE
    px, py = wx, wy
    if standing >= 3:
        if not flying:
            ahead = AHEAD / goal.n[at.CYCLE]
            left = standing
            for turn in range(2):  # the feet that wait come before those that will
                for leg in range(L):
                    if legs[leg] and _wants(state, goal, leg, turn * ahead) and left > 3:
                        legs[leg] = False
                        left -= 1
        px, py = drawn_in(state, legs, wx, wy, need)
    gx, gy = px - wx, py - wy
    for k in range(2):
        want = c * gx + s * gy if k == 0 else -s * gx + c * gy
        step = want - state.sway[k]
        most = SWAY_SPEED * h
        state.sway[k] += min(max(step, -most), most)


@njit(cache=True)
def _begin_swings(fixed, state, goal, over, rho):  # type: ignore[no-untyped-def]
    """Lift the feet whose turn it is, as far as the margin allows; True where one must wait."""
    L = len(state.mode)
    legs = np.empty(L, np.bool_)
    _standing(state, legs)
    ahead, blocked = np.empty(2), False
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    T = goal.n[at.SWING_TIME] * 0.5 * rho
    ahead[0] = over[0] + T * (c * state.twist[0] - s * state.twist[1])
    ahead[1] = over[1] + T * (s * state.twist[0] + c * state.twist[1])
    for leg in range(L):
        if (
            state.mode[leg] == at.HELD
            and leg == int(goal.n[at.STEP])
            and goal.n[at.OP] != at.OP_HOLD
        ):
            take_aim(fixed, state, goal, leg, goal.n[at.SWING_TIME])
            state.aim[leg, 2] = _expected(state, goal, leg)
            lift_off(state, goal, leg)
            state.top[leg] = max(state.foot[leg, 2], state.aim[leg, 2] + 0.5 * goal.n[at.LIFT])
            continue
        if not _wants(state, goal, leg, 0.0):
            continue
        legs[leg] = False
        need = goal.n[at.MARGIN]
        enough = min(margin_of(state, legs, over), margin_of(state, legs, ahead)) >= need
        if enough and state.since[leg] > goal.n[at.CALM]:
            take_aim(fixed, state, goal, leg, goal.n[at.SWING_TIME])
            state.aim[leg, 2] = _expected(state, goal, leg)
            if goal.n[at.OP] == at.OP_HOLD and leg == int(goal.n[at.STEP]):
                for k in range(3):
                    state.aim[leg, k] = state.foot[leg, k]
            lift_off(state, goal, leg)
            if goal.n[at.OP] == at.OP_HOLD and leg == int(goal.n[at.STEP]):
                state.aim[leg, 2] = state.top[leg]
        else:
            legs[leg] = True
            blocked = True
            state.flags[leg] |= at.BLOCKED_BY_MARGIN
    return blocked


@njit(cache=True)
def foresee(fixed, state):  # type: ignore[no-untyped-def]
    """Whether a standing foot would lose its place if the body went on for `FORESIGHT`."""
    moving = 0.0
    for k in range(6):
        moving = max(moving, abs(state.posture_v[k]))
    for k in range(3):
        moving = max(moving, abs(state.twist[k]))
    if moving < 1e-4:
        return False
    posture, place = state.posture.copy(), state.place.copy()
    q, R, b, target = state.q.copy(), np.empty((3, 3)), np.empty(3), np.empty(3)
    c, s = math.cos(place[2]), math.sin(place[2])
    for k in range(6):
        state.posture[k] += FORESIGHT * state.posture_v[k]
    state.place[0] += FORESIGHT * (c * state.twist[0] - s * state.twist[1])
    state.place[1] += FORESIGHT * (s * state.twist[0] + c * state.twist[1])
    state.place[2] += FORESIGHT * state.twist[2]
    body_pose(state, R, b)
    state.posture[:] = posture
    state.place[:] = place
    for leg in range(len(state.mode)):
        if state.mode[leg] != at.STAND and state.mode[leg] != at.LAND:
            continue
        for i in range(3):
            target[i] = 0.0
            for k in range(3):
                target[i] += R[k, i] * (state.foot[leg, k] - b[k])
        miss = follow(fixed.packed, leg, target, q, fixed.lower, fixed.upper, fixed.rest)
        if miss > LOST:
            return True
    return False


@njit(cache=True)
def advance(fixed, state, goal, touch, h):  # type: ignore[no-untyped-def]
    """Move everything but the joints on by ``h``, then let the joints follow."""
    L = len(state.mode)
    R, b, over, target = np.empty((3, 3)), np.empty(3), np.empty(3), np.empty(3)
    body_pose(state, R, b)
    com_over(state, R, b, over)
    clock, walking = state.clock, goal.n[at.WALKING] > 0.0
    flying = late = False
    for leg in range(L):
        mode = state.mode[leg]
        up = mode in (at.SWING, at.FALL, at.BACK)
        flying |= up or mode == at.HELD
        local = _local(state, goal, leg)
        if walking and local < goal.n[at.DUTY]:
            late |= up
            state.done[leg] = 0.0
    blocked = _begin_swings(fixed, state, goal, over, clock[at.RHO])
    _lean(state, goal, over, flying, h)
    hold = late or blocked
    run = 0.0 if hold or not walking or goal.n[at.STEP] >= 0.0 else 1.0
    clock[at.RHO] += min(max(run - clock[at.RHO], -HOLD_RATE * h), HOLD_RATE * h)
    clock[at.BLOCKED] = clock[at.BLOCKED] + h if hold else 0.0
    if walking:
        clock[at.PHASE] = (clock[at.PHASE] + h * clock[at.RHO] / goal.n[at.CYCLE]) % 1.0
    share = stride_share(fixed, state, goal) if walking else 0.0
    if clock[at.LATCH] > 0.0:
        clock[at.LATCH] = max(clock[at.LATCH] - h, 0.0)
        share = 0.0
    else:
        clock[at.WATCHED] += h
        if clock[at.WATCHED] >= WATCH:
            clock[at.WATCHED] = 0.0
            if foresee(fixed, state):
                clock[at.LATCH] = STAY
                share = 0.0
    legs = np.empty(L, np.bool_)
    standing = _standing(state, legs)
    least = margin_of(state, legs, over)
    if flying and standing < L and walking:
        share *= min(max((least - goal.n[at.MARGIN] + SPARE) / SPARE, 0.0), 1.0)
    clock[at.KAPPA], clock[at.LEAST] = share, least
    drive_twist(state, goal, share * clock[at.RHO], h)
    if goal.n[at.FELT] > 0.0:
        survey(state, h)
    drive_posture(fixed, state, goal, FOLLOW, h)
    for leg in range(L):
        if state.mode[leg] == at.STAND:
            state.since[leg] += h
            continue
        if state.mode[leg] == at.SWING and state.left[leg] > FIRM:
            take_aim(fixed, state, goal, leg, state.left[leg])
            if goal.n[at.OP] != at.OP_HOLD or leg != int(goal.n[at.STEP]):
                state.aim[leg, 2] = _expected(state, goal, leg)
        up = state.mode[leg] != at.LAND
        fly(fixed, state, goal, leg, touch[leg], h)
        down = state.mode[leg] == at.STAND or state.mode[leg] == at.LAND
        if up and down and state.miss[leg] > LOST:
            _anchor(fixed, state, leg, R, b)
            settle(state, leg)
    body_pose(state, R, b)
    for leg in range(L):
        for i in range(3):
            target[i] = 0.0
            for k in range(3):
                target[i] += R[k, i] * (state.foot[leg, k] - b[k])
        state.miss[leg] = follow(
            fixed.packed, leg, target, state.q, fixed.lower, fixed.upper, fixed.rest
        )


@njit(cache=True)
def weigh(fixed, state):  # type: ignore[no-untyped-def]
    """Find the centre of mass at the joint targets."""
    J = len(state.q)
    q, none, rest = state.q.reshape(1, J), np.zeros((1, J)), np.zeros((1, 6))
    gathered = recursion(fixed.packed, q, none, none, rest, rest)[4]
    for k in range(3):
        state.com[k] = gathered[0, 1 + k]


@njit(cache=True)
def _strain(fixed, before, qd, state, dt):  # type: ignore[no-untyped-def]
    """Hardest use of the joint speed limits and of the joint acceleration limits."""
    speed = surge = 0.0
    for j in range(len(before)):
        v = (state.q[j] - before[j]) / dt
        speed = max(speed, abs(v) / fixed.speed[j])
        surge = max(surge, abs(v - qd[j]) / (dt * fixed.surge[j]))
    return speed, surge


@njit(cache=True)
def _hold_back(fixed, state, before, qd, dt):  # type: ignore[no-untyped-def]
    """Keep the joints of flying legs inside their limits, even where the path leaves reach."""
    for leg in range(len(state.mode)):
        if state.mode[leg] == at.STAND or state.mode[leg] == at.LAND:
            continue
        for j in range(fixed.packed.column[leg], fixed.packed.column[leg + 1]):
            v, most = (state.q[j] - before[j]) / dt, fixed.surge[j] * dt
            v = min(max(v, qd[j] - most), qd[j] + most)
            v = min(max(v, -fixed.speed[j]), fixed.speed[j])
            brake = 2.0 * BRAKING * fixed.surge[j]
            v = min(v, math.sqrt(brake * max(fixed.upper[j] - before[j], 0.0)))
            v = max(v, -math.sqrt(brake * max(before[j] - fixed.lower[j], 0.0)))
            state.q[j] = min(max(before[j] + v * dt, fixed.lower[j]), fixed.upper[j])


@njit(cache=True)
def _anchor(fixed, state, leg, R, b):  # type: ignore[no-untyped-def]
    """A foot that landed beside its path stands where it really is."""
    foot = np.empty(3)
    jac = np.empty((3, fixed.packed.column[leg + 1] - fixed.packed.column[leg]))
    foot_of(fixed.packed, leg, state.q, foot, jac)
    for i in range(3):
        state.foot[leg, i] = b[i]
        for k in range(3):
            state.foot[leg, i] += R[i, k] * foot[k]


@njit(cache=True)
def tick(fixed, state, goal, touch, dt, kept, kept_mode):  # type: ignore[no-untyped-def]
    """One step of ``dt``; slows time as far as the joints need it.

    ``kept`` and ``kept_mode`` are room for a copy of the state. Returns the share of time that
    passed, and the strain of speed and acceleration.
    """
    before, qd = state.q.copy(), state.qd.copy()
    kept[:] = state.whole
    kept_mode[:] = state.mode
    old = state.clock[at.SIGMA]
    best, least = 1.0, np.inf
    speed = surge = sigma = 0.0
    for attempt in range(len(PACES) + 1):
        sigma = best  # if none is good: the least bad
        if attempt < len(PACES):
            sigma = min(max(old + PACES[attempt] * dt, SLOWEST), 1.0)
        state.flags[:] = 0
        advance(fixed, state, goal, touch, sigma * dt)
        state.clock[at.SIGMA] = sigma
        speed, surge = _strain(fixed, before, qd, state, dt)
        if (speed <= FULL and surge <= 1.0) or attempt == len(PACES):
            break
        cost = max(speed, surge)
        if cost < least:
            best, least = sigma, cost
        state.whole[:] = kept
        state.mode[:] = kept_mode
    _hold_back(fixed, state, before, qd, dt)
    for j in range(len(before)):
        state.qd[j] = (state.q[j] - before[j]) / dt
    if goal.n[at.FELT] <= 0.0:  # else the contact observer has weighed it
        weigh(fixed, state)
    return sigma, speed, surge
