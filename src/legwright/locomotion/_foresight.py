"""Kernel: will the standing feet still reach their places?"""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import copy, within
from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose
from legwright.locomotion._limb import pursue, room_of

FORESIGHT = 0.3
"""How far ahead the reach of the standing feet is watched [s]."""
LOST = 2e-5
"""A foot this far from its place has lost it [m]."""


@within
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
    copy(state.posture, posture)
    copy(state.place, place)
    room = room_of(fixed.packed)
    for leg in range(len(state.mode)):
        if state.mode[leg] != at.STAND and state.mode[leg] != at.LAND:
            continue
        for i in range(3):
            target[i] = 0.0
            for k in range(3):
                target[i] += R[k, i] * (state.foot[leg, k] - b[k])
        miss = pursue(fixed.packed, leg, target, q, fixed.lower, fixed.upper, fixed.rest, room)
        if miss > LOST:
            return True
    return False
