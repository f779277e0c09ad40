"""Kernel: one control step."""

from __future__ import annotations

import numpy as np

from legwright.kernel import copy, fill, within
from legwright.locomotion import _state as at
from legwright.locomotion._bearing import share_load
from legwright.locomotion._body import (
    SPARE,
    body_pose,
    com_over,
    drive_posture,
    drive_twist,
    margin_of,
    stride_share,
)
from legwright.locomotion._clock import in_the_air, run_clock, standing_feet
from legwright.locomotion._foresight import LOST, foresee
from legwright.locomotion._heading import steer
from legwright.locomotion._leaning import lean_in
from legwright.locomotion._lifting import begin_swings, expected_height, take_aim
from legwright.locomotion._limb import chain, pursue, room_of
from legwright.locomotion._limits import hold_back, strain_of
from legwright.locomotion._swings import FIRM, fly, settle
from legwright.locomotion._terrain import lean_of, survey
from legwright.mechanics._recursion import recurse

WATCH = 0.018
"""How often the reach of standing feet is watched [s]."""
STAY = 1.0
"""The body stays this long where going on would cost a foot its place [s]."""
FULL = 0.97
"""Share of a joint's speed limit that the walk uses; beyond it, time itself is slowed."""
PACES = (3.0, 0.0, -3.0, -6.0, -12.0, -24.0, 8.0)
"""How fast time may be released or slowed, as tried in turn [1/s]."""
SLOWEST = 0.02
"""Time never stands quite still."""


@within
def advance(fixed, state, goal, touch, h):  # type: ignore[no-untyped-def]
    """Move everything but the joints on by ``h``, then let the joints follow."""
    R, b, over = np.empty((3, 3)), np.empty(3), np.empty(3)
    body_pose(state, R, b)
    com_over(state, R, b, over)
    flying, late = in_the_air(state, goal)
    blocked = begin_swings(fixed, state, goal, over, late, h)
    lean_in(state, goal, over, flying, h)
    run_clock(state, goal, flying, late, blocked, h)
    share = _share_of_twist(fixed, state, goal, over, flying, h)
    share *= state.clock[at.FLOW]
    before = state.place.copy()
    drive_twist(state, goal, share, h)
    steer(state, goal, before, share, h)
    if goal.n[at.FELT] > 0.0:
        share_load(state, goal, over, flying, h)
        survey(state, h)
    roll, pitch = lean_of(state.relief[2]), -lean_of(state.relief[1])
    drive_posture(fixed, state, goal, roll, pitch, h)
    _move_feet(fixed, state, goal, touch, R, b, h)
    _follow_feet(fixed, state, R, b)


@within
def _share_of_twist(fixed, state, goal, over, flying, h):  # type: ignore[no-untyped-def]
    """Share of the asked twist that stride, reach and margin allow now, 0 to 1."""
    clock, walking = state.clock, goal.n[at.WALKING] > 0.0
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
    legs = np.empty(len(state.mode), np.bool_)
    standing = standing_feet(state, legs)
    least = margin_of(state, legs, over)
    if flying and standing < len(legs) and walking:
        share *= min(max((least - goal.n[at.MARGIN] + SPARE) / SPARE, 0.0), 1.0)
    clock[at.KAPPA], clock[at.LEAST] = share, least
    return share


@within
def _move_feet(fixed, state, goal, touch, R, b, h):  # type: ignore[no-untyped-def]
    """Move the feet that do not stand; R, b: the body's pose before this step."""
    for leg in range(len(state.mode)):
        if state.mode[leg] == at.STAND:
            state.since[leg] += h
            continue
        if state.mode[leg] == at.SWING and state.left[leg] > FIRM and state.bump[leg] == 0.0:
            take_aim(fixed, state, goal, leg, state.left[leg])
            if goal.n[at.OP] != at.OP_HOLD or leg != int(goal.n[at.STEP]):
                state.aim[leg, 2] = expected_height(state, goal, leg)
        up, before = state.mode[leg] != at.LAND, state.mode[leg]
        fly(fixed, state, goal, leg, touch[leg], h)
        if state.mode[leg] == at.BACK and before != at.BACK and state.miss[leg] > LOST:
            drawn = state.aim[leg, 2] - state.foot[leg, 2]
            anchor(fixed, state, leg, R, b)  # it was sent where the leg does not reach
            if before == at.SWING:
                state.aim[leg, :2] = state.foot[leg, :2]
                state.aim[leg, 2] = state.foot[leg, 2] + drawn
            elif state.aim[leg, 2] > state.foot[leg, 2] + drawn:
                state.aim[leg, 2] = state.foot[leg, 2] + drawn
        down = state.mode[leg] == at.STAND or state.mode[leg] == at.LAND
        if up and down and state.miss[leg] > LOST:
            anchor(fixed, state, leg, R, b)
            settle(state, leg)


@within
def _follow_feet(fixed, state, R, b):  # type: ignore[no-untyped-def]
    """Let the joints follow body and feet; R, b are filled with the body's new pose."""
    target, room = np.empty(3), room_of(fixed.packed)
    body_pose(state, R, b)
    for leg in range(len(state.mode)):
        for i in range(3):
            target[i] = 0.0
            for k in range(3):
                target[i] += R[k, i] * (state.foot[leg, k] - b[k])
        state.miss[leg] = pursue(
            fixed.packed, leg, target, state.q, fixed.lower, fixed.upper, fixed.rest, room
        )


@within
def weigh(fixed, state):  # type: ignore[no-untyped-def]
    """Find the centre of mass at the joint targets."""
    J = len(state.q)
    q, none, rest = state.q.reshape(1, J), np.zeros((1, J)), np.zeros((1, 6))
    gathered = recurse(fixed.packed, q, none, none, rest, rest)[4]
    for k in range(3):
        state.com[k] = gathered[0, 1 + k]


@within
def anchor(fixed, state, leg, R, b):  # type: ignore[no-untyped-def]
    """A foot that landed beside its path stands where it really is."""
    foot, z, o, _, _ = room_of(fixed.packed)
    chain(fixed.packed, leg, state.q, foot, z, o)
    for i in range(3):
        state.foot[leg, i] = b[i]
        for k in range(3):
            state.foot[leg, i] += R[i, k] * foot[k]


@within
def note_lag(fixed, state):  # type: ignore[no-untyped-def]
    """How far the joints really leave each foot in the air behind its path.

    It fades by half each step: a joint that only passes by its path has not caught up.
    """
    R, b = np.empty((3, 3)), np.empty(3)
    foot, z, o, _, _ = room_of(fixed.packed)
    body_pose(state, R, b)
    for leg in range(len(state.mode)):
        if state.mode[leg] == at.STAND or state.mode[leg] == at.LAND:
            state.lag[leg] = 0.0
            continue
        chain(fixed.packed, leg, state.q, foot, z, o)
        gap = 0.0
        for i in range(3):
            off = b[i] - state.foot[leg, i]
            for k in range(3):
                off += R[i, k] * foot[k]
            gap += off * off
        state.lag[leg] = max(gap**0.5, 0.5 * state.lag[leg])


@within
def tick(fixed, state, goal, touch, dt, kept, kept_mode):  # type: ignore[no-untyped-def]
    """One step of ``dt``; slows time as far as the joints need it.

    ``kept`` and ``kept_mode`` are room for a copy of the state. Returns the share of time that
    passed, and the strain of speed and acceleration.
    """
    before, qd = state.q.copy(), state.qd.copy()
    copy(kept, state.whole)
    copy(kept_mode, state.mode)
    old = state.clock[at.SIGMA]
    best, least = 1.0, np.inf
    speed = surge = sigma = 0.0
    for attempt in range(len(PACES) + 1):
        sigma = best  # if none is good: the least bad
        if attempt < len(PACES):
            sigma = min(max(old + PACES[attempt] * dt, SLOWEST), 1.0)
        fill(state.flags, 0)
        advance(fixed, state, goal, touch, sigma * dt)
        state.clock[at.SIGMA] = sigma
        speed, surge = strain_of(fixed, before, qd, state, dt)
        if (speed <= FULL and surge <= 1.0) or attempt == len(PACES):
            break
        cost = max(speed, surge)
        if cost < least:
            best, least = sigma, cost
        copy(state.whole, kept)
        copy(state.mode, kept_mode)
    hold_back(fixed, state, before, qd, dt)
    note_lag(fixed, state)
    for j in range(len(before)):
        state.qd[j] = (state.q[j] - before[j]) / dt
    if goal.n[at.FELT] <= 0.0:  # else the contact observer has weighed it
        weigh(fixed, state)
    return sigma, speed, surge
