"""Draw: what a motion asks of its servos in current, torque headroom and heat."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics._draw import drawn
from legwright.mechanics._servo import one_kind, plain
from legwright.mechanics.drive import Drive, drives_of
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.mechanics.servo_line import continuous_torque
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Packed, read_only


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Draw(Packed):
    """Currents, headroom and heat of J leg joints over T samples of a cycle.

    A number that rests on something the sheet does not give is nan.
    """

    torque: Floats
    """(T, J): torque asked of each drive, positive along the joint axis [N·m]."""
    winding_current: Floats
    """(T, J): magnitude [A]."""
    supply_current: Floats
    """(T, J): at the voltage asked about, electronics included [A]."""
    available: Floats
    """(T, J): torque magnitude that the servo can give at that speed, voltage and winding
    temperature [N·m]."""
    headroom: Floats
    """(T, J): available over needed torque; inf where no torque is needed."""
    heat: Floats
    """(T, J): copper loss at the winding temperature [W]."""
    winding: Floats
    """(J,): winding temperature that current, headroom and heat are reckoned at [K]."""
    steady_temperature: Floats
    """(J,): where the winding settles if the cycle goes on for ever [K]; inf: it runs away."""
    time_to_limit: Floats
    """(J,): from ambient to the highest winding temperature [s]; inf: never."""
    rms_torque: Floats
    """(J,): root mean square of the torque over the cycle [N·m]."""
    heat_torque: Floats
    """(J,): torque that, held at rest for ever, warms the winding as the cycle does [N·m];
    friction counts, so it is not the root mean square of the torque. The winding stays below
    its limit exactly when this stays below the continuous torque that follows from heat."""
    continuous: Floats
    """(J,): torque that may be held for ever in this ambient [N·m]."""
    voltage: Floats
    """Supply voltage at the servos, (J,) or (T, J) [V]; nan: rated voltage not stated."""
    ambient: float
    """[K]"""
    known: NDArray[np.bool_]
    """(J,): True where currents are known."""


def draw(
    robot: Robot,
    motion: Motion,
    loads: Loads,
    *,
    voltage: float | Floats | None = None,
    ambient: float | None = None,
    winding: float | Floats | None = None,
) -> Draw:
    """What a motion asks of the servos of a robot.

    Args:
        robot: The robot.
        motion: The sampled cycle.
        loads: Its joint torques.
        voltage: At the servos, (), (J,) or (T, J) [V]. None: the battery's nominal voltage,
            or each servo's rated voltage where the sheet names no battery.
        ambient: [K]; the sheet's when None.
        winding: Winding temperature to reckon at, () or (J,) [K]; where the winding settles,
            at most its limit, when None. 293.15 gives the makers' cold figures.

    Returns:
        Draw.
    """
    if voltage is None and robot.sheet.battery is not None:
        voltage = robot.sheet.battery.nominal_voltage
    return draw_of(
        drives_of(robot),
        loads.torque,
        motion.qd,
        voltage=voltage,
        ambient=robot.sheet.requirements.ambient if ambient is None else ambient,
        winding=winding,
    )


def draw_of(
    drives: Drive,
    torque: Floats,
    speed: Floats,
    *,
    voltage: float | Floats | None = None,
    ambient: float = 298.15,
    winding: float | Floats | None = None,
) -> Draw:
    """What joint torques and speeds ask of drives; samples evenly spaced over a cycle.

    Args:
        drives: Of J joints.
        torque: That each drive applies to its joint, (T, J) [N·m].
        speed: (T, J) [rad/s].
        voltage: At the servos, (), (J,) or (T, J) [V]; rated when None.
        ambient: [K]
        winding: Winding temperature, () or (J,) [K]; see `draw`.

    Returns:
        Draw.
    """
    samples, joints = torque.shape
    volts = drives.voltage if voltage is None else np.asarray(voltage, np.float64)
    spread = np.empty((samples if volts.ndim > 1 else 1, joints))
    spread[...] = volts
    by_sample, by_joint = np.empty((5, samples, joints)), np.empty((5, joints))
    if winding is not None:
        by_joint[1] = winding
    drawn(
        plain(drives), np.array(drives.idle_current), one_kind(torque), one_kind(speed),
        spread, float(ambient), np.array(drives.thermal_time), winding is not None, by_sample,
        by_joint,
    )  # fmt: skip
    current, supply_current, available, headroom, heat = by_sample
    steady, warm, time_to_limit, square, torque_square = by_joint
    return Draw(
        torque=torque,
        winding_current=current,
        supply_current=supply_current,
        available=available,
        headroom=headroom,
        heat=heat,
        winding=warm,
        steady_temperature=steady,
        time_to_limit=time_to_limit,
        rms_torque=np.sqrt(torque_square),
        heat_torque=np.sqrt(square) * drives.torque_constant,
        continuous=_continuous(drives, float(ambient)),
        voltage=spread if volts.ndim > 1 else spread[0],
        ambient=ambient,
        known=~np.isnan(drives.torque_constant),
    )


@lru_cache(maxsize=16)
def _continuous(drives: Drive, ambient: float) -> Floats:
    return read_only(continuous_torque(drives, ambient))
