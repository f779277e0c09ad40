"""Kernel: how hard a weighed cycle uses every drive."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
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
def drive_at(d, j):  # type: ignore[no-untyped-def]
    """What of drive ``j`` its winding current depends on: see `winding`."""
    constant, emf = d.torque_constant[j], d.emf_constant[j]
    driving = 1.0 / constant if constant != 0.0 else math.inf
    relief = driving - d.backdrive[j] / emf if emf != 0.0 else -math.inf
    return AT_REST * d.no_load_speed[j], driving, relief, d.friction_current[j]


@within
def winding(drive, torque, speed):  # type: ignore[no-untyped-def]
    """Winding current of a drive as `drive_at` gives it; see `servo_current.winding_current`."""
    resting, driving, relief, friction = drive
    motion = speed / resting
    motion = min(max(motion, -1.0), 1.0) if motion == motion else motion
    gain = driving
    if torque * motion < 0.0:
        relief *= abs(motion)
        gain = driving - relief if not relief < 0.0 else driving
    return torque * gain + friction * motion


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
def line_at(d, j, volts, warm):  # type: ignore[no-untyped-def]
    """The line of drive ``j`` at a voltage and winding temperature: see `available`."""
    ratio = volts / d.voltage[j]
    ratio = ratio if ratio == ratio else 1.0
    iota, copper = d.friction_share[j], _copper(warm)
    stall = 0.0 if ratio * d.voltage[j] < d.lowest_voltage[j] else d.stall_torque[j]
    if d.flat[j]:
        return True, d.no_load_speed[j], stall, 0.0, d.cap[j]
    rest = (ratio / copper - iota) / (1.0 - iota)
    return False, d.no_load_speed[j], stall * rest, stall / copper, d.cap[j]


@within
def available(line, speed, driven):  # type: ignore[no-untyped-def]
    """Largest torque on a line as `line_at` gives it; see `servo_line.available_torque`."""
    flat, free, rest, slope, cap = line
    pace = abs(speed) / free
    if pace != pace:
        return math.nan
    if flat:
        torque = rest if driven or pace <= 1.0 else 0.0
    else:
        torque = rest if driven else rest - slope * pace
    torque = torque if not torque < 0.0 else 0.0
    return cap if torque > cap else torque


@within
def servo_use(d, volts, ambient, rotor, idle, qd, qdd, jacobian, force, share, headroom, steady):  # type: ignore[no-untyped-def]
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
        share: Of the cycle's samples that these are; where it is below 1 windings are taken for
            as cool as they can be, so that no drive has more headroom.
        headroom: Out, (J,).
        steady: Out, (J,) [K].

    Returns:
        The drive with the least headroom; the one whose winding comes nearest to its limit, as
        a share of the way from the ambient, and that share; -1 and nan where none is known.
    """
    T, J = idle.shape
    weakest, hottest, heated = 0, -1, math.nan
    for j in range(J):
        square, drive = 0.0, drive_at(d, j)
        for t in range(T):
            through = 0.0
            for k in range(3):
                through += jacobian[t, k, j] * force[t, j // 3, k]
            idle[t, j] += rotor[j] * qdd[t, j] - through
            i = winding(drive, idle[t, j], qd[t, j])
            square += i * i
        square *= share / T
        steady[j] = settled(square, d.resistance[j], d.thermal_resistance[j], ambient)
        warm = _at_work(steady[j], d.highest_winding[j], ambient)
        if share < 1.0 and d.highest_winding[j] != d.highest_winding[j] and steady[j] == steady[j]:
            warm = min(ambient, REFERENCE)
        least, line = math.inf, line_at(d, j, volts[j], warm)
        for t in range(T):
            torque, speed = idle[t, j], qd[t, j]
            most = available(line, speed, torque * speed < 0.0)
            if most != most:
                continue
            if torque != 0.0:
                least = min(least, most / abs(torque))
            elif most == 0.0:
                least = 0.0
        headroom[j] = least
        if least < headroom[weakest]:
            weakest = j
        heat, room = steady[j] - ambient, d.highest_winding[j] - ambient
        if room != 0.0:
            heat /= room
        else:
            heat = math.inf if heat > 0.0 else math.nan
        if heat > heated or (heat == heat and heated != heated):
            hottest, heated = j, heat
    return weakest, hottest, heated
