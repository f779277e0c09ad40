"""Kernels: a swinging foot that runs into something stops, backs and goes over it.

A foot in free flight trails what was asked of it by the servos' lag alone. Where it trails
farther along its own horizontal way, something holds it: a foot that only rose on and went on
pushing drove the whole robot back by up to 6 cm (measured on steps of a quarter leg length).
"""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel
from legwright.locomotion import _state as at
from legwright.locomotion._limb import chain, room_of

TRAILS = 0.015
"""How far a foot may trail its way in flight, in leg lengths, before it has met something."""
LATENCY = 0.005
"""It trails by its speed times this besides [s]."""
BACK_OFF = 0.04
"""How far it backs from where it was stopped, in leg lengths."""
MOVES = 0.05
"""A slower foot meets nothing [m/s]."""
FRESH = 0.05
"""Time after lift-off in which the foot still comes free of the ground [s]."""
RETREAT = 0.15
"""Time in which the foot comes to rest, backed off [s]."""
MOST = 3.0
"""So often in one swing."""


@kernel
def heed_bumps(fixed, state, q, asked, length):  # type: ignore[no-untyped-def]
    """Mark the swinging feet that something holds, and aim them where they back to.

    Args:
        fixed: The robot.
        state: `bump` and `aim` are written.
        q: (J,) measured joint positions.
        asked: (J,) what was asked of the joints when they were measured.
        length: Of a leg [m].
    """
    measured, wanted = np.empty(3), np.empty(3)
    _, z, o, _, _ = room_of(fixed.packed)
    yaw = state.place[2] + state.posture[5]
    c, s = math.cos(yaw), math.sin(yaw)
    for leg in range(len(state.mode)):
        flies = state.mode[leg] == at.SWING and state.since[leg] > FRESH
        if not flies or state.bump[leg] != 0.0 or state.tries[leg] >= MOST:
            continue
        vx, vy = state.foot_v[leg, 0], state.foot_v[leg, 1]
        speed = math.sqrt(vx * vx + vy * vy)
        if speed < MOVES:
            continue
        chain(fixed.packed, leg, q, measured, z, o)
        chain(fixed.packed, leg, asked, wanted, z, o)
        dx, dy = wanted[0] - measured[0], wanted[1] - measured[1]
        ux, uy = vx / speed, vy / speed
        trails = ux * (c * dx - s * dy) + uy * (s * dx + c * dy)
        if trails > TRAILS * length + LATENCY * speed * state.clock[at.SIGMA]:
            back = trails + BACK_OFF * length
            state.aim[leg, 0] = state.foot[leg, 0] - back * ux
            state.aim[leg, 1] = state.foot[leg, 1] - back * uy
            state.bump[leg] = -1.0
