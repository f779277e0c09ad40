"""Within kernels: what one drive takes and gives; see `servo_current`, `servo_line`, `heat`."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.kernel import within
from legwright.mechanics.drive import Drive
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


@lru_cache(maxsize=8)
def plain(drives: Drive) -> Drives:
    """The constants of J drives, for kernels."""
    return Drives(*(np.array(getattr(drives, name)) for name in Drives._fields))


def one_kind(values: Floats) -> Floats:
    """The same as the one kind of array that kernels are made for; for those that only read."""
    if values.flags.carray and values.dtype == np.float64:
        return values
    return np.array(values, dtype=np.float64, order="C")


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
def time_to(limit, square, resistance, thermal, time_constant, ambient):  # type: ignore[no-untyped-def]
    """Time from the ambient to a limit; see `heat.time_to_temperature`."""
    gain = COPPER_COEFFICIENT * (square * resistance) * thermal
    slack = 1.0 - gain
    slack = 1e-9 if abs(slack) < 1e-9 else slack
    final, tau = gain / COPPER_COEFFICIENT * _copper(ambient) / slack, time_constant / slack
    wall = limit - ambient
    if math.isnan(final + wall + tau):
        return math.nan
    if wall <= 0.0:
        return 0.0
    if tau > 0.0 and not final > wall:
        return math.inf
    return tau * math.log1p(wall / (final - wall)) if final != wall else tau * math.inf


@within
def at_work(steady, highest, ambient):  # type: ignore[no-untyped-def]
    """Winding temperature to reckon at: where it settles, at most its limit; 20 °C if not known."""
    if steady != steady:
        return REFERENCE
    limited = steady if highest != highest else min(steady, highest)
    return limited if math.isfinite(limited) else max(ambient, REFERENCE)


@within
def motor_at(d, j, warm):  # type: ignore[no-untyped-def]
    """What of drive ``j`` its line depends on at a winding temperature: see `line`."""
    return (
        d.flat[j], d.no_load_speed[j], d.stall_torque[j], d.friction_share[j], _copper(warm),
        d.cap[j], d.voltage[j], d.lowest_voltage[j],
    )  # fmt: skip


@within
def line(motor, volts):  # type: ignore[no-untyped-def]
    """The line of a drive as `motor_at` gives it at a voltage: see `available`."""
    flat, free, stall, iota, copper, cap, rated, lowest = motor
    ratio = volts / rated
    ratio = ratio if ratio == ratio else 1.0
    stall = 0.0 if ratio * rated < lowest else stall
    if flat:
        return True, free, stall, 0.0, cap
    rest = (ratio / copper - iota) / (1.0 - iota)
    return False, free, stall * rest, stall / copper, cap


@within
def line_at(d, j, volts, warm):  # type: ignore[no-untyped-def]
    """The line of drive ``j`` at a voltage and winding temperature: see `available`."""
    return line(motor_at(d, j, warm), volts)


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
