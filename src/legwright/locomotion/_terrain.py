"""Kernels: the ground as the feet found it, and the body that follows it."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose, turning

LEVEL = 0.07
"""Slope up to which the body stays level."""
FOLLOW = 0.6
"""Share of what is steeper that the body takes."""
HEIGHT_RATE, SLOPE_RATE = 1.5, 0.7
"""How fast height and slope follow [1/s]."""
FASTEST = 0.04
"""Of the height [m/s]."""
STEEPEST = 0.5
"""Slope that is believed at most."""
UPRIGHT_TIME = 0.3
"""Time constant with which the inertial sensor corrects the believed tilt [s]."""
LEVEL_TIME = 5.0
"""Time in which a believed slope fades where no inertial sensor confirms it [s]: that of two or
three cycles, in which all feet find other ground."""
ROUGH_MEMORY = 0.15
"""Weight of the newest touch-down in the roughness."""


@within
def heed_gravity(state, up, dt):  # type: ignore[no-untyped-def]
    """Turn the ground frame so that the body's believed tilt goes to the measured one.

    Body and feet turn together about the body's origin: no joint moves.

    Args:
        state: Written.
        up: (3,) measured direction against gravity, body frame.
        dt: Time since the last step [s].
    """
    share = min(dt / UPRIGHT_TIME, 1.0)
    pitch = -math.asin(min(max(up[0], -1.0), 1.0))
    roll = math.atan2(up[1], up[2])
    _tip(state, share * (roll - state.posture[3]), share * (pitch - state.posture[4]))


@kernel
def trust_ground(state, dt):  # type: ignore[no-untyped-def]
    """Without an inertial sensor: turn the ground frame so that the believed slope fades.

    What feet sink in adds up to a slope that is none, and a body that kept level to it would
    tip ever farther. So the ground is taken to be level in the long run: on a real slope the
    body comes to lean with it.

    Args:
        state: Written.
        dt: Time since the last step [s].
    """
    share = min(dt / LEVEL_TIME, 1.0)
    _tip(state, -share * math.atan(state.relief[2]), share * math.atan(state.relief[1]))
    state.relief[1] *= 1.0 - share
    state.relief[2] *= 1.0 - share


@within
def _tip(state, roll, pitch):  # type: ignore[no-untyped-def]
    """Turn body and feet together about the body's origin by what the tilt was believed wrong."""
    old, new, b = np.empty((3, 3)), np.empty((3, 3)), np.empty(3)
    body_pose(state, old, b)
    state.posture[3] += roll
    state.posture[4] += pitch
    turning(state.posture[3], state.posture[4], state.place[2] + state.posture[5], new)
    turn = np.empty((3, 3))
    for i in range(3):
        for k in range(3):
            turn[i, k] = new[i, 0] * old[k, 0] + new[i, 1] * old[k, 1] + new[i, 2] * old[k, 2]
    for leg in range(len(state.mode)):
        turned(state.foot[leg], turn, b)
        turned(state.aim[leg], turn, b)
    none = np.zeros(3)
    for leg in range(len(state.mode)):
        turned(state.foot_v[leg], turn, none)
        turned(state.foot_a[leg], turn, none)


@within
def turned(p, turn, about):  # type: ignore[no-untyped-def]
    """Turn a point ``p`` (3,) in place by a matrix about another point."""
    x, y, z = p[0] - about[0], p[1] - about[1], p[2] - about[2]
    for i in range(3):
        p[i] = about[i] + turn[i, 0] * x + turn[i, 1] * y + turn[i, 2] * z


@kernel
def survey(state, h):  # type: ignore[no-untyped-def]
    """Let the believed ground follow the standing feet: a plane by least squares.

    Slopes lean towards what was believed, by a weight of one foot a tenth of a metre off.
    """
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    crest = -1.0
    n = sx = sy = sz = sxx = sxy = syy = sxz = syz = 0.0
    for leg in range(len(state.mode)):
        if state.mode[leg] != at.STAND and state.mode[leg] != at.LAND:
            continue
        gx, gy = state.foot[leg, 0] - state.place[0], state.foot[leg, 1] - state.place[1]
        x, y, z = c * gx + s * gy, c * gy - s * gx, state.foot[leg, 2]
        n += 1.0
        crest = max(crest, z - state.relief[0])
        sx, sy, sz = sx + x, sy + y, sz + z
        sxx, sxy, syy = sxx + x * x, sxy + x * y, syy + y * y
        sxz, syz = sxz + x * z, syz + y * z
    if n < 3.0:
        return
    state.relief[5] = crest
    mx, my, mz = sx / n, sy / n, sz / n
    a, b, d = sxx - n * mx * mx + 0.01, sxy - n * mx * my, syy - n * my * my + 0.01
    old_x, old_y = state.relief[1], state.relief[2]
    p, q = sxz - n * mx * mz + 0.01 * old_x, syz - n * my * mz + 0.01 * old_y
    det = a * d - b * b
    gx, gy = (d * p - b * q) / det, (a * q - b * p) / det
    share = min(SLOPE_RATE * h, 1.0)
    state.relief[1] += share * (min(max(gx, -STEEPEST), STEEPEST) - old_x)
    state.relief[2] += share * (min(max(gy, -STEEPEST), STEEPEST) - old_y)
    under = mz - mx * state.relief[1] - my * state.relief[2]
    step = HEIGHT_RATE * h * (under - state.relief[0])
    state.relief[0] += min(max(step, -FASTEST * h), FASTEST * h)


@within
def lean_of(slope):  # type: ignore[no-untyped-def]
    """Angle that the body leans on a slope [rad]."""
    return FOLLOW * math.atan(slope - min(max(slope, -LEVEL), LEVEL))


@within
def ground_at(state, x, y):  # type: ignore[no-untyped-def]
    """Believed height of the ground at a place of the ground frame [m]."""
    c, s = math.cos(state.place[2]), math.sin(state.place[2])
    gx, gy = x - state.place[0], y - state.place[1]
    ahead, aside = c * gx + s * gy, c * gy - s * gx
    return state.relief[0] + state.relief[1] * ahead + state.relief[2] * aside


@within
def remember(state, leg, expected):  # type: ignore[no-untyped-def]
    """Learn from a touch-down how rough the ground is."""
    off = state.foot[leg, 2] - expected
    state.relief[4] += ROUGH_MEMORY * off
    state.relief[3] += ROUGH_MEMORY * (abs(off) - state.relief[3])
