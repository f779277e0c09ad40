"""Kernel: how hard a weighed cycle uses every drive."""

from __future__ import annotations

import math

from legwright.kernel import within
from legwright.mechanics._servo import at_work, available, drive_at, line_at, settled, winding
from legwright.mechanics.heat import REFERENCE


@within
def servo_use(d, volts, ambient, rotor, idle, qd, qdd, jacobian, force, share, headroom, steady):  # type: ignore[no-untyped-def]
    """Least headroom and settled winding of every drive.

    Args:
        d: Constants of the J drives, as `Drives`.
        volts: (J,) at the servos [V].
        ambient: [K]
        rotor: (J,) rotor inertia at the outputs [kg·m²].
        idle: (J, T) torque while no foot touches anything [N·m]; made the whole torque.
        qd: (J, T) [rad/s].
        qdd: (J, T) [rad/s²].
        jacobian: (J, 3, T) of each drive's foot [m/rad].
        force: (T, L, 3) of the ground on the feet [N].
        share: Of the cycle's samples that these are; where it is below 1 windings are taken for
            as cool as they can be, so that no drive has more headroom.
        headroom: Out, (J,).
        steady: Out, (J,) [K].

    Returns:
        The drive with the least headroom; the one whose winding comes nearest to its limit, as
        a share of the way from the ambient, and that share; -1 and nan where none is known.
    """
    J, T = idle.shape
    weakest, hottest, heated = 0, -1, math.nan
    for j in range(J):
        square, drive = 0.0, drive_at(d, j)
        for t in range(T):
            through = 0.0
            for k in range(3):
                through += jacobian[j, k, t] * force[t, j // 3, k]
            idle[j, t] += rotor[j] * qdd[j, t] - through
            i = winding(drive, idle[j, t], qd[j, t])
            square += i * i
        square *= share / T
        steady[j] = settled(square, d.resistance[j], d.thermal_resistance[j], ambient)
        warm = at_work(steady[j], d.highest_winding[j], ambient)
        if share < 1.0 and d.highest_winding[j] != d.highest_winding[j] and steady[j] == steady[j]:
            warm = min(ambient, REFERENCE)
        least, line = math.inf, line_at(d, j, volts[j], warm)
        for t in range(T):
            torque, speed = idle[j, t], qd[j, t]
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
