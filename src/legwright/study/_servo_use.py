"""Kernel: how hard a weighed cycle uses every drive."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from legwright.kernel import within
from legwright.mechanics.heat import COPPER_COEFFICIENT, REFERENCE
from legwright.mechanics.servo_current import AT_REST
from legwright.robot.tree import Floats


class Drives(NamedTuple):
    """Constants of the J drives; see `mechanics.drive.Drive`."""

    stall_torque: Floats
    no_load_speed: Floats
    cap: Floats
    flat: NDArray[np.bool_]
    voltage: Floats
    lowest_voltage: Floats
    friction_share: Floats
    friction_current: Floats
    resistance: Floats
    torque_constant: Floats
    emf_constant: Floats
    backdrive: Floats
    thermal_resistance: Floats
    highest_winding: Floats


@within
def _copper(temperature):  # type: ignore[no-untyped-def]
    """See `heat.copper_factor`."""
    return max(1.0 + COPPER_COEFFICIENT * (temperature - REFERENCE), 0.0)


@within
def winding(d, j, torque, speed):  # type: ignore[no-untyped-def]
    """Winding current of drive ``j``; see `servo_current.winding_current`."""
    motion = speed / (AT_REST * d.no_load_speed[j])
    motion = min(max(motion, -1.0), 1.0) if motion == motion else motion
    driving = 1.0 / d.torque_constant[j] if d.torque_constant[j] != 0.0 else math.inf
    gain = driving
    if torque * motion < 0.0:
        relief = (driving - d.backdrive[j] / d.emf_constant[j]) * abs(motion)
        gain = driving - relief if not relief < 0.0 else driving
    return torque * gain + d.friction_current[j] * motion


@within
def settled(square, resistance, thermal, ambient):  # type: ignore[no-untyped-def]
    """Where a winding settles; see `heat.steady_temperature`."""
    gain = COPPER_COEFFICIENT * (square * resistance) * thermal
    if gain >= 1.0:
        return math.inf
    return ambient + gain / COPPER_COEFFICIENT * _copper(ambient) / (1.0 - gain)


@within
def _at_work(steady, highest, ambient):  # type: ignore[no-untyped-def]
    """Winding temperature to reckon at; see `draw._operating`."""
    if steady != steady:
        return REFERENCE
    limited = steady if highest != highest else min(steady, highest)
    return limited if math.isfinite(limited) else max(ambient, REFERENCE)


@within
def available(d, j, speed, volts, driven, warm):  # type: ignore[no-untyped-def]
    """Largest torque of drive ``j``; see `servo_line.available_torque`."""
    pace = abs(speed) / d.no_load_speed[j]
    if pace != pace:
        return math.nan
    ratio = volts / d.voltage[j]
    ratio = ratio if ratio == ratio else 1.0
    if d.flat[j]:
        share = 1.0 if driven or pace <= 1.0 else 0.0
    else:
        iota = d.friction_share[j]
        turning = 0.0 if driven else (1.0 - iota) * pace
        share = ((ratio - turning) / _copper(warm) - iota) / (1.0 - iota)
    share = share if not share < 0.0 else 0.0
    if ratio * d.voltage[j] < d.lowest_voltage[j]:
        return 0.0
    torque = d.stall_torque[j] * share
    return d.cap[j] if torque > d.cap[j] else torque


@njit(cache=True)
def servo_use(d, volts, ambient, rotor, idle, qd, qdd, jacobian, force, headroom, steady):  # type: ignore[no-untyped-def]
    """Least headroom and settled winding of every drive.

    Args:
        d: Constants of the J drives, as `Drives`.
        volts: (J,) at the servos [V].
        ambient: [K]
        rotor: (J,) rotor inertia at the outputs [kg·m²].
        idle: (T, J) torque while no foot touches anything [N·m]; made the whole torque.
        qd: (T, J) [rad/s].
        qdd: (T, J) [rad/s²].
        jacobian: (T, 3, J) of each drive's foot [m/rad].
        force: (T, L, 3) of the ground on the feet [N].
        headroom: Out, (J,).
        steady: Out, (J,) [K].
    """
    T, J = idle.shape
    for j in range(J):
        square = 0.0
        for t in range(T):
            through = 0.0
            for k in range(3):
                through += jacobian[t, k, j] * force[t, j // 3, k]
            idle[t, j] += rotor[j] * qdd[t, j] - through
            i = winding(d, j, idle[t, j], qd[t, j])
            square += i * i
        square /= T
        steady[j] = settled(square, d.resistance[j], d.thermal_resistance[j], ambient)
        warm = _at_work(steady[j], d.highest_winding[j], ambient)
        least = math.inf
        for t in range(T):
            torque, speed = idle[t, j], qd[t, j]
            most = available(d, j, speed, volts[j], torque * speed < 0.0, warm)
            if most != most:
                continue
            if torque != 0.0:
                least = min(least, most / abs(torque))
            elif most == 0.0:
                least = 0.0
        headroom[j] = least
