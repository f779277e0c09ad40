"""Kernel: the body leans towards where the margin is kept."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import within
from legwright.locomotion import _state as at
from legwright.locomotion._body import SPARE, SWAY_SPEED, drawn_in
from legwright.locomotion._clock import standing_feet, wants_up

AHEAD = 0.45
"""The body leans for a foot that will lift within this time [s]."""


@within
def lean_in(state, goal, over, flying, h):  # type: ignore[no-untyped-def]
    """Move the sway towards where the centre of mass keeps the margin."""
    L = len(state.mode)
    legs = np.empty(L, np.bool_)
    standing = standing_feet(state, legs)
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
                    if legs[leg] and wants_up(state, goal, leg, turn * ahead) and left > 3:
                        legs[leg] = False
                        left -= 1
        px, py = drawn_in(state, legs, wx, wy, need)
    gx, gy = px - wx, py - wy
    for k in range(2):
        want = c * gx + s * gy if k == 0 else -s * gx + c * gy
        step = want - state.sway[k]
        most = SWAY_SPEED * h
        state.sway[k] += min(max(step, -most), most)
