"""Kernel: what the ground does to each foot, from joint currents."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from legwright.locomotion import _state as at
from legwright.mechanics._recursion import recursion
from legwright.robot.tree import Floats

GRAVITY = 9.80665
BLIND, LISTEN = 0.04, 0.10
"""A descent's first moments are not judged; then, until `LISTEN`, its zero is taken [s]."""
ODD = 2.0
"""A zero this many thresholds above the usual one was taken on the ground."""
CLEAR = 2.2
"""A push this many thresholds high needs no second sample."""
MEMORY = 0.3
"""Weight of the newest zero in the usual one."""
SMOOTH = 0.7
"""Share of the newest force in the smoothed one."""
DOUBT = 0.8
"""Share of rotor torque and friction by which the model may be wrong while a foot flies."""
SLACK = 0.01
"""Smallest vertical lever that counts, m of foot per rad."""


class Feeling(NamedTuple):
    """The observer's memory."""

    gain: Floats
    """(J,): output torque per winding current [N·m/A]."""
    friction: Floats
    """(J,): identified gear friction [N·m]; 0 until calibrated."""
    qd: Floats
    """(4, J): joint speeds asked for in the last steps, newest first [rad/s]."""
    residual: Floats
    """(J,): torque that neither weight, inertia nor friction explain [N·m]."""
    raw: Floats
    """(L,): upward force that the residual of each leg's best lever means [N]."""
    zero: Floats
    """(L,): what it reads in the air, from the leg's own descents [N]."""
    push: Floats
    """(L,): smoothed force of the ground on the foot, zero taken off [N]."""
    over: Floats
    """(L,): steps in a row above the threshold."""
    usual: Floats
    """(L,): mean of the last descents' zeros, nan before the first [N]."""
    seen: Floats
    """(L,): samples in this descent's zero."""
    sum: Floats
    """(L,): their sum [N]."""
    limit: Floats
    """(3, L): thresholds of push in descent, in flight, and load of a standing foot [N]."""


@njit(cache=True)
def feel(fixed, state, feeling, q, current, up, dt, touch):  # type: ignore[no-untyped-def]
    """Estimate foot forces and say which feet touch.

    Args:
        fixed: The robot.
        state: Modes of the legs and what was asked of the joints.
        feeling: The observer's memory, updated.
        q: (J,) measured joint positions; none is nan.
        current: (J,) measured winding currents; nan counts as no information.
        up: (3,) direction against gravity, body frame.
        dt: Time since the last step [s].
        touch: (L,) of bools, filled.
    """
    J, L = len(q), len(state.mode)
    for row in range(3, 0, -1):
        feeling.qd[row] = feeling.qd[row - 1]
    feeling.qd[0] = state.qd
    rows, qd, qdd = q.copy().reshape(1, J), np.empty((1, J)), np.empty((1, J))
    twist, acceleration = np.zeros((1, 6)), np.zeros((1, 6))
    for j in range(J):  # what is asked now has reached the links two steps later
        qd[0, j] = feeling.qd[1, j]
        qdd[0, j] = (feeling.qd[1, j] - feeling.qd[2, j]) / dt
    for k in range(3):
        acceleration[0, k] = GRAVITY * up[k]
    found = recursion(fixed.packed, rows, qd, qdd, twist, acceleration)
    torque, jacobian = found[0], found[3]
    for k in range(3):
        state.com[k] = found[4][0, 1 + k]
    for j in range(J):
        own = feeling.gain[j] * current[j] - fixed.packed.rotor[j] * qdd[0, j] - torque[0, j]
        own -= feeling.friction[j] * min(max(qd[0, j] / 0.05, -1.0), 1.0)
        feeling.residual[j] = own
    for leg in range(L):
        touch[leg] = False
        best, lever = -1, SLACK
        for j in range(fixed.packed.column[leg], fixed.packed.column[leg + 1]):
            arm = abs(
                up[0] * jacobian[0, 0, j] + up[1] * jacobian[0, 1, j] + up[2] * jacobian[0, 2, j]
            )
            if arm > lever and not np.isnan(feeling.residual[j]):
                best, lever = j, arm
        if best < 0:
            continue
        arm = (
            up[0] * jacobian[0, 0, best] + up[1] * jacobian[0, 1, best]
            + up[2] * jacobian[0, 2, best]
        )  # fmt: skip
        feeling.raw[leg] = -feeling.residual[best] / arm
        jerky = abs(fixed.packed.rotor[best] * qdd[0, best]) + feeling.friction[best]
        _judge(state, feeling, leg, DOUBT * jerky / abs(arm), touch)


@njit(cache=True)
def _judge(state, feeling, leg, doubt, touch):  # type: ignore[no-untyped-def]
    """Zero the force in each descent, then compare it with the thresholds."""
    mode, since, raw = state.mode[leg], state.since[leg], feeling.raw[leg]
    falling = mode == at.FALL
    known = not np.isnan(feeling.usual[leg])
    if falling and since < BLIND:
        feeling.seen[leg] = feeling.sum[leg] = 0.0
    elif falling and since < LISTEN:
        feeling.seen[leg] += 1.0
        feeling.sum[leg] += raw
    elif falling and feeling.seen[leg] > 0.0:
        mean = feeling.sum[leg] / feeling.seen[leg]
        feeling.seen[leg] = 0.0
        if known and mean > feeling.usual[leg] + ODD * feeling.limit[0, leg]:
            touch[leg] = True  # it touched while the zero was taken
            return
        feeling.zero[leg] = mean
        share = MEMORY if known else 1.0
        before = feeling.usual[leg] if known else 0.0
        feeling.usual[leg] = before + share * (mean - before)
    push = raw - feeling.zero[leg]
    feeling.push[leg] += SMOOTH * (push - feeling.push[leg])
    limit, need = feeling.limit[0, leg], 2.0
    if falling and since >= LISTEN and feeling.push[leg] > CLEAR * limit:
        need = 1.0
    if falling and since < LISTEN:
        limit, need = ODD * limit + 0.3 * doubt, 3.0
    elif not falling:
        limit, need = feeling.limit[1, leg] + doubt, 3.0
    if feeling.push[leg] > limit:
        feeling.over[leg] += 1.0
    else:
        feeling.over[leg] = 0.0
    touch[leg] = feeling.over[leg] >= need
