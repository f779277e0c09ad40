"""Kernels: what a motion asks of its servos, and the currents of their windings alone."""

from __future__ import annotations

import math

from legwright.kernel import kernel
from legwright.mechanics._servo import (
    Drives,
    at_work,
    available,
    drive_at,
    line,
    motor_at,
    settled,
    time_to,
    winding,
)
from legwright.robot.tree import Floats


@kernel
def drawn(
    d: Drives,
    idle: Floats,
    torque: Floats,
    speed: Floats,
    volts: Floats,
    ambient: float,
    time_constant: Floats,
    given: bool,
    by_sample: Floats,
    by_joint: Floats,
) -> None:
    """What joint torques and speeds ask of drives; see `draw.draw_of`.

    Args:
        d: Constants of the J drives.
        idle: (J,) supply currents of the electronics [A].
        torque: (T, J) [N·m].
        speed: (T, J) [rad/s].
        volts: At the servos, (T, J), or (1, J) for all samples [V].
        ambient: [K]
        time_constant: (J,) of the windings [s].
        given: Whether the temperatures of the windings are given.
        by_sample: Out, (5, T, J): winding current [A], supply current [A], available torque
            [N·m], headroom, heat [W].
        by_joint: Out, (5, J): where the winding settles [K], temperature of the winding, which
            may be given [K], time to its limit [s], mean squares of current [A²] and torque.
    """
    T, J = torque.shape
    for j in range(J):
        square, twist, drive = 0.0, 0.0, drive_at(d, j)
        for t in range(T):
            i = winding(drive, torque[t, j], speed[t, j])
            by_sample[0, t, j] = i
            square += i * i
            twist += torque[t, j] * torque[t, j]
        square, twist = square / T, twist / T
        by_joint[3, j], by_joint[4, j] = square, twist
        resistance, thermal = d.resistance[j], d.thermal_resistance[j]
        limit = d.highest_winding[j]
        by_joint[0, j] = settled(square, resistance, thermal, ambient)
        by_joint[2, j] = time_to(limit, square, resistance, thermal, time_constant[j], ambient)
        if not given:
            by_joint[1, j] = at_work(by_joint[0, j], limit, ambient)
        motor = motor_at(d, j, by_joint[1, j])
        resistance, emf = resistance * motor[4], d.emf_constant[j]
        for t in range(T):
            i, pulls, turns = by_sample[0, t, j], torque[t, j], speed[t, j]
            heat, here = i * i * resistance, volts[t if volts.shape[0] > 1 else 0, j]
            power = heat + emf * turns * i
            power = 0.0 if power < 0.0 else power
            most = available(line(motor, here), turns, pulls * turns < 0.0)
            by_sample[0, t, j], by_sample[4, t, j], by_sample[2, t, j] = abs(i), heat, most
            if here != 0.0:
                by_sample[1, t, j] = power / here + idle[j]
            else:
                by_sample[1, t, j] = math.inf if power > 0.0 else math.nan
            if pulls != 0.0:
                by_sample[3, t, j] = most / abs(pulls)
            elif most == most:
                by_sample[3, t, j] = math.inf if most > 0.0 else 0.0
            else:
                by_sample[3, t, j] = math.nan


@kernel
def windings(d: Drives, torque: Floats, speed: Floats, current: Floats, back: Floats) -> None:
    """Currents of windings, and the voltages of their motors against them.

    Args:
        d: Constants of the J drives.
        torque: (T, J) [N·m].
        speed: (T, J) [rad/s].
        current: Out, (T, J): magnitude [A].
        back: Out, (T, J): positive against the current [V].
    """
    for j in range(torque.shape[1]):
        drive, emf = drive_at(d, j), d.emf_constant[j]
        for t in range(torque.shape[0]):
            i = winding(drive, torque[t, j], speed[t, j])
            current[t, j] = abs(i)
            back[t, j] = emf * (speed[t, j] if i > 0.0 else -speed[t, j] if i < 0.0 else 0.0 * i)
