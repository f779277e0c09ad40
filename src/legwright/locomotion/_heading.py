"""Kernels: the yaw that the inertial sensor's turn rate says, and the way back to the track.

Dead reckoning knows nothing of feet that slip. Where a turn rate is measured, its difference
from the believed one turns body and feet together in the ground frame; then the walk is off
the track that was asked for, and is steered back.
"""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import copy, fill, kernel, within
from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose
from legwright.locomotion._terrain import turned

STILL = 1e-4
"""Walking and turning slower than this, on all feet, the body has no heading to change [m/s,
rad/s]."""
LONGEST = 4.0
"""The sensor's zero is the mean of the last still moments, of so many seconds at most."""
BACK = 0.6
"""Rate at which the heading, and the distance from the track, are set right [1/s]."""
MOST_TURN = 0.12
"""Turn rate that corrects the heading at most [rad/s]."""
MOST_ASIDE = 0.25
"""Speed aside that corrects the track at most, of the asked speed."""
SMOOTH = 6.0
"""How fast a correction builds up [1/s]."""


@kernel
def heed_spin(state, spin, up, dt):  # type: ignore[no-untyped-def]
    """Turn the ground frame by what the measured turn rate has more than the believed one.

    The sensor's constant error is learnt whenever the body stands still. Body and feet turn
    together about the body's origin: no joint moves.

    Args:
        state: Written.
        spin: (3,) measured angular velocity of the body, body frame [rad/s].
        up: (3,) direction against gravity, body frame.
        dt: Time since the last step [s].
    """
    clock = state.clock
    measured = spin[0] * up[0] + spin[1] * up[1] + spin[2] * up[2]
    if _still(state):
        clock[at.STILL] = min(clock[at.STILL] + dt, LONGEST)
        clock[at.BIAS] += dt / clock[at.STILL] * (measured - clock[at.BIAS])
        return
    believed = state.twist[2] + state.steer[1] + state.posture_v[5]
    angle = (measured - clock[at.BIAS] - clock[at.SIGMA] * believed) * dt
    turn, b, none = np.zeros((3, 3)), np.empty(3), np.zeros(3)
    body_pose(state, turn, b)
    c, s = math.cos(angle), math.sin(angle)
    for i in range(3):
        turn[i, 2] = turn[2, i] = 0.0
    turn[0, 0], turn[0, 1], turn[1, 0], turn[1, 1], turn[2, 2] = c, -s, s, c, 1.0
    for leg in range(len(state.mode)):
        turned(state.foot[leg], turn, b)
        turned(state.aim[leg], turn, b)
        turned(state.foot_v[leg], turn, none)
        turned(state.foot_a[leg], turn, none)
    x, y = state.place[0] - b[0], state.place[1] - b[1]
    state.place[0], state.place[1] = b[0] + c * x - s * y, b[1] + s * x + c * y
    state.place[2] += angle


@within
def turn_rate(state, spin, up, heard):  # type: ignore[no-untyped-def]
    """Turn rate about the vertical: measured, its constant error taken off, or believed [rad/s].

    Args:
        state: Read.
        spin: (3,) measured angular velocity of the body, body frame [rad/s].
        up: (3,) direction against gravity, body frame.
        heard: Whether it is measured.
    """
    if heard:
        measured = spin[0] * up[0] + spin[1] * up[1] + spin[2] * up[2]
        return measured - state.clock[at.BIAS]
    turning = state.twist[2] + state.steer[1] + state.posture_v[5]
    return state.clock[at.SIGMA] * turning


@within
def _still(state):  # type: ignore[no-untyped-def]
    for leg in range(len(state.mode)):
        if state.mode[leg] != at.STAND:
            return False
    moving = abs(state.posture_v[5])  # roll and pitch keep level all the time, and turn nothing
    for k in range(3):
        moving = max(moving, abs(state.twist[k]))
    return moving < STILL


@kernel
def steer(state, goal, before, share, h):  # type: ignore[no-untyped-def]
    """Move the place towards the track that was asked for, while walking.

    The track goes on as the place would have without corrections. What the robot is ahead or
    behind on it does not count.

    Args:
        state: `place` has been moved by `twist` already.
        goal: The asked twist gives the track's direction.
        before: (3,) the place before the twist moved it.
        share: Of the asked twist that is walked now.
        h: Time step [s].
    """
    place, track = state.place, state.track
    if goal.n[at.WALKING] <= 0.0:
        copy(track, place)
        fill(state.steer, 0.0)
        return
    c, s = math.cos(track[2] - before[2]), math.sin(track[2] - before[2])
    x, y = place[0] - before[0], place[1] - before[1]
    track[0] += c * x - s * y
    track[1] += s * x + c * y
    track[2] += place[2] - before[2]
    speed = math.sqrt(goal.twist[0] ** 2 + goal.twist[1] ** 2)
    off = track[2] - place[2]
    turn = min(max(BACK * off, -MOST_TURN), MOST_TURN) * share
    aside, ax, ay = 0.0, 0.0, 0.0
    if speed > 1e-3:
        c, s = math.cos(track[2]), math.sin(track[2])
        ux = (c * goal.twist[0] - s * goal.twist[1]) / speed
        uy = (s * goal.twist[0] + c * goal.twist[1]) / speed
        ex, ey = track[0] - place[0], track[1] - place[1]
        along, aside = ex * ux + ey * uy, -ex * uy + ey * ux
        track[0] -= along * ux
        track[1] -= along * uy
        ax, ay = -uy, ux
    most = MOST_ASIDE * speed
    aside = min(max(BACK * aside, -most), most) * share
    state.steer[0] += min(SMOOTH * h, 1.0) * (aside - state.steer[0])
    state.steer[1] += min(SMOOTH * h, 1.0) * (turn - state.steer[1])
    place[0] += h * state.steer[0] * ax
    place[1] += h * state.steer[0] * ay
    place[2] += h * state.steer[1]
