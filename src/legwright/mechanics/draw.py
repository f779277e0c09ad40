"""Draw: what a motion asks of its servos in current, torque headroom and heat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics.drive import Drive, drives_of
from legwright.mechanics.heat import (
    REFERENCE,
    mean_square,
    steady_temperature,
    time_to_temperature,
    winding_heat,
)
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.mechanics.servo_current import supply_current, winding_current
from legwright.mechanics.servo_line import available_torque, continuous_torque
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Draw:
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
    current = winding_current(drives, torque, speed)
    square = mean_square(current)
    thermal = (square, drives.resistance, drives.thermal_resistance)
    steady = steady_temperature(*thermal, ambient)
    warm = (
        _operating(drives, steady, ambient)
        if winding is None
        else (np.broadcast_to(np.asarray(winding, np.float64), steady.shape))
    )
    volts = drives.voltage if voltage is None else np.asarray(voltage, np.float64)
    available = available_torque(drives, speed, volts, driven=torque * speed < 0.0, winding=warm)
    return Draw(
        torque=torque,
        winding_current=np.abs(current),
        supply_current=supply_current(drives, current, speed, volts, winding=warm),
        available=available,
        headroom=_headroom(available, torque),
        heat=winding_heat(current, drives.resistance, warm),
        winding=warm,
        steady_temperature=steady,
        time_to_limit=time_to_temperature(
            *thermal, drives.thermal_time, limit=drives.highest_winding, ambient=ambient
        ),
        rms_torque=np.sqrt(mean_square(torque)),
        heat_torque=np.sqrt(square) * drives.torque_constant,
        continuous=continuous_torque(drives, ambient),
        voltage=np.array(np.broadcast_to(volts, np.broadcast_shapes(volts.shape, steady.shape))),
        ambient=ambient,
        known=~np.isnan(drives.torque_constant),
    )


def _operating(drives: Drive, steady: Floats, ambient: float) -> Floats:
    """Winding temperature at work: where it settles, at most its limit; 20 °C if not known."""
    limited = np.fmin(steady, drives.highest_winding)
    warm = np.where(np.isfinite(limited), limited, max(ambient, REFERENCE))
    return np.where(np.isnan(steady), REFERENCE, warm)


def _headroom(available: Floats, torque: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = available / np.abs(torque)
    return np.where((available == 0.0) & (torque == 0.0), 0.0, ratio)
