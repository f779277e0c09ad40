"""Kernels: what a step asks of the joints, and joints kept inside their limits."""

from __future__ import annotations

import math

from legwright.kernel import within
from legwright.locomotion import _state as at

BRAKING = 0.35
"""Share of the acceleration limit with which a joint brakes before its stop."""


@within
def strain_of(fixed, before, qd, state, dt):  # type: ignore[no-untyped-def]
    """Hardest use of the joint speed limits and of the joint acceleration limits."""
    speed = surge = 0.0
    for j in range(len(before)):
        v = (state.q[j] - before[j]) / dt
        speed = max(speed, abs(v) / fixed.speed[j])
        surge = max(surge, abs(v - qd[j]) / (dt * fixed.surge[j]))
    return speed, surge


@within
def hold_back(fixed, state, before, qd, dt):  # type: ignore[no-untyped-def]
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
