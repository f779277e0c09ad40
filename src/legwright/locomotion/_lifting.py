"""Kernels: where a foot goes, and whether it may lift now."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.locomotion import _state as at
from legwright.locomotion._bearing import PATIENCE, borne
from legwright.locomotion._body import margin_of
from legwright.locomotion._clock import standing_feet, wants_up
from legwright.locomotion._swings import lift_off, reserve
from legwright.locomotion._terrain import ground_at

AIM = 0.85
"""Share of its room that a foot steps ahead at most; see `pace.STROKE`."""


@within
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
        size, most = math.sqrt(ox * ox + oy * oy), AIM * fixed.room[leg]
        if size > most:
            ox, oy = ox * most / size, oy * most / size
        t = left + reserve(state, goal) / goal.n[at.FALL_SPEED]  # it still feels its way down
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


@within
def expected_height(state, goal, leg):  # type: ignore[no-untyped-def]
    """Height at which a foot is expected to meet the ground."""
    if goal.n[at.FELT] > 0.0:
        return ground_at(state, state.aim[leg, 0], state.aim[leg, 1]) + state.relief[4]
    return 0.0


@kernel
def begin_swings(fixed, state, goal, over, late, h):  # type: ignore[no-untyped-def]
    """Lift the feet whose turn it is; True where one must wait.

    It waits for feet that are late, for the margin without it, and for the others to carry.
    """
    L = len(state.mode)
    legs = np.empty(L, np.bool_)
    standing_feet(state, legs)
    ahead, blocked, gated = np.empty(2), False, False
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    T = goal.n[at.SWING_TIME] * 0.5 * min(state.clock[at.RHO], 1.0)
    ahead[0] = over[0] + T * (c * state.twist[0] - s * state.twist[1])
    ahead[1] = over[1] + T * (s * state.twist[0] + c * state.twist[1])
    for leg in range(L):
        single = leg == int(goal.n[at.STEP])
        if state.mode[leg] == at.HELD and single and goal.n[at.OP] != at.OP_HOLD:
            _set_down(fixed, state, goal, leg)
            continue
        if not wants_up(state, goal, leg, 0.0):
            continue
        legs[leg] = False
        enough = min(margin_of(state, legs, over), margin_of(state, legs, ahead))
        firm = not late and enough >= goal.n[at.MARGIN] and state.since[leg] > goal.n[at.CALM]
        light = firm and state.clock[at.GATED] < PATIENCE and not borne(state, goal, legs, over)
        if firm and not light:
            _lift(fixed, state, goal, leg, single and goal.n[at.OP] == at.OP_HOLD)
        else:
            legs[leg] = True
            blocked, gated = True, gated or light
            state.flags[leg] |= at.BLOCKED_BY_MARGIN
    state.clock[at.GATED] = state.clock[at.GATED] + h if gated else 0.0
    return blocked


@within
def _set_down(fixed, state, goal, leg):  # type: ignore[no-untyped-def]
    """Begin to set a foot down that was held in the air."""
    take_aim(fixed, state, goal, leg, goal.n[at.SWING_TIME])
    state.aim[leg, 2] = expected_height(state, goal, leg)
    lift_off(fixed, state, goal, leg)
    state.top[leg] = max(state.foot[leg, 2], state.aim[leg, 2] + 0.5 * goal.n[at.LIFT])


@within
def _lift(fixed, state, goal, leg, hold):  # type: ignore[no-untyped-def]
    """Begin a swing, or lift a foot that is to stay in the air."""
    take_aim(fixed, state, goal, leg, goal.n[at.SWING_TIME])
    state.aim[leg, 2] = expected_height(state, goal, leg)
    if hold:
        for k in range(3):
            state.aim[leg, k] = state.foot[leg, k]
    lift_off(fixed, state, goal, leg)
    if hold:
        state.aim[leg, 2] = state.top[leg]
