"""Servos of a robot as the physics world runs them: constants and states from the sheet.

Rotor and link are two masses: the rotor, with all friction, drives the link through gear and
horn, a stiff spring behind the backlash; the position sensor sits on the output shaft, after
the backlash. The motor is the permanent-magnet motor of `mechanics.drive`, so both ends of the
maker's line are met, whatever the gear loses.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np

from legwright.errors import RequestError
from legwright.mechanics.drive import Drive, drives_of
from legwright.rig import _servo_kernel as k
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

WIND_UP = 0.0175
"""How far gear and horn wind up at stall, 1° [rad]; common practice, no published source."""

GEAR_RATIO_OF_DAMPING = 0.3
"""Damping ratio of a link on its gear's spring; common practice, no published source."""

ROTOR_PER_TORQUE = 0.0016
"""Rotor inertia at the output per stall torque where the sheet states none [kg·m²/(N·m)];
common practice, no published source."""

ASSUMED_VOLTAGE = 12.0
"""Where a servo file names none [V]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """How the servo electronics close the position loop and what they report."""

    full_at: float = 0.0873
    """Position error at which the bridge is fully open at rated voltage, 5° [rad]."""
    feed: float = 1.0
    """Share of the wanted speed's back voltage that is fed forward; 0 for drives that take
    positions only."""
    stribeck: float = 0.5
    """Friction at rest on top of that while turning, as a share."""
    stribeck_speed: float = 0.1
    """Output speed at which it has fallen to 1/e [rad/s]."""
    filter: float = 0.003
    """Time constant of the current sensor [s]."""
    speed_filter: float = 0.01
    """Time constant of the reported speed [s]."""
    fade: float = 10.0
    """Band below the highest winding temperature in which the current limit falls to zero [K]."""

    def __post_init__(self) -> None:
        """Refuse what no servo does."""
        for name in ("full_at", "stribeck_speed", "filter", "speed_filter", "fade"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0.0):
                raise RequestError(f"loop.{name}", value, "finite and more than 0")
        for name in ("feed", "stribeck"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0.0):
                raise RequestError(f"loop.{name}", value, "finite and at least 0")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Servos:
    """All servos of the legs, ready to be stepped."""

    constants: Floats
    """(CONSTANTS, J); rows as in the kernel."""
    noise: Floats
    """(J,): standard deviation of one current reading [A]."""
    grain: Floats
    """(J,): step of the current sensor, 0 for none [A]."""
    notes: tuple[str, ...]
    """What had to be assumed, one sentence each."""

    def states(self, q: Floats, ambient: float) -> Floats:
        """States at rest at joint positions, (STATES, J), windings at ambient [K]."""
        states = np.zeros((k.STATES, len(q)))
        grain = self.constants[k.ENCODER]
        states[k.ANGLE] = q
        with np.errstate(divide="ignore", invalid="ignore"):
            states[k.READ] = np.where(grain > 0.0, np.floor(q / grain + 0.5) * grain, q)
        states[k.WINDING] = ambient
        states[k.FRICTION] = 1.0
        states[k.SUPPLY] = self.constants[k.IDLE]
        return states


def servos_of(
    robot: Robot, link_inertia: Floats, *, timestep: float, ambient: float, loop: Loop | None = None
) -> Servos:
    """The servos of a robot's legs.

    Args:
        robot: The robot.
        link_inertia: Inertia that each joint sees behind its gear with all others held, least
            over the poses that matter, (J,) [kg·m²].
        timestep: Physics step; the gear's spring is softened where the step is too coarse
            for it [s].
        ambient: [K]
        loop: Of the electronics; the default one when None.

    Returns:
        The servos.
    """
    loop, drive = loop or Loop(), drives_of(robot)
    notes: list[str] = []
    table = np.zeros((k.CONSTANTS, len(robot.joint_names)))
    _motor_rows(table, drive, notes)
    _gear_rows(table, robot, drive, link_inertia, timestep, notes)
    _heat_rows(table, drive, ambient, loop, notes)
    volts = np.where(drive.voltage > 0.0, drive.voltage, ASSUMED_VOLTAGE)
    table[k.GAIN] = volts / loop.full_at
    table[k.FEED] = loop.feed
    table[k.STRIBECK], table[k.STRIBECK_SPEED] = loop.stribeck, loop.stribeck_speed
    table[k.FILTER], table[k.SPEED_FILTER] = loop.filter, loop.speed_filter
    table[k.LOWEST_VOLTAGE] = np.nan_to_num(drive.lowest_voltage)
    table[k.IDLE] = np.nan_to_num(drive.idle_current)
    table[k.ENCODER] = _of(robot, "encoder_step")
    if drive.flat.any():
        notes.append(
            "No servo data: stiff servos with the torque and speed limits of the URDF; "
            "'current' stands for torque, 1 A for 1 N·m."
        )
    return Servos(
        constants=table,
        noise=_of(robot, "current_noise"),
        grain=_of(robot, "current_step"),
        notes=tuple(dict.fromkeys(notes)),
    )


def _of(robot: Robot, field: str) -> Floats:
    """One number of each joint's servo file, 0 where not stated."""
    servos = [robot.servos.get(name) for name in robot.joint_names]
    return np.array([getattr(servo, field, None) or 0.0 for servo in servos])


def _motor_rows(table: Floats, drive: Drive, notes: list[str]) -> None:
    """Winding and friction; an ordinary motor with the same line where currents are unknown."""
    table[k.FLAT] = drive.flat
    table[k.CAP] = drive.cap
    table[k.FASTEST] = drive.no_load_speed
    volts = np.where(drive.voltage > 0.0, drive.voltage, ASSUMED_VOLTAGE)
    known = np.isfinite(drive.torque_constant) & np.isfinite(drive.emf_constant)
    emf = np.where(known, drive.emf_constant, volts / drive.no_load_speed)
    torque = np.where(known, drive.torque_constant, 0.8 * emf)
    ohms = np.where(known, drive.resistance, volts * torque / drive.stall_torque)
    friction = np.where(known, drive.friction_current, 0.0)
    table[k.EMF], table[k.RESISTANCE] = emf, ohms
    table[k.DRIVING_LOSS] = np.maximum(emf / torque - 1.0, 0.0)
    backdrive = np.where(np.isfinite(drive.backdrive), drive.backdrive, 0.75)
    table[k.BACKDRIVE_LOSS] = 1.0 - np.clip(backdrive, 0.0, 1.0)
    table[k.COULOMB] = emf * friction
    table[k.CURRENT_LIMIT] = drive.cap / torque + friction
    if not (known | drive.flat).all():
        notes.append("Servo currents are not stated: a motor with the same torque-speed line.")
    if (drive.torque_constant > drive.emf_constant).any():
        notes.append("Servo data promise more power than they take: the gear is taken as lossless.")


def _gear_rows(
    table: Floats,
    robot: Robot,
    drive: Drive,
    link_inertia: Floats,
    timestep: float,
    notes: list[str],
) -> None:
    """Rotor, play, spring of gear and horn."""
    ratio, rotor = _of(robot, "gear_ratio"), _of(robot, "rotor_inertia")
    reflected = rotor * ratio**2
    stated = reflected > 0.0
    table[k.ROTOR] = np.where(stated, reflected, ROTOR_PER_TORQUE * drive.stall_torque)
    table[k.PLAY] = 0.5 * _of(robot, "backlash")
    wanted = drive.cap / WIND_UP
    lightest = np.minimum(link_inertia, table[k.ROTOR])
    bearable = (0.7 / timestep) ** 2 * lightest
    table[k.GEAR] = np.minimum(wanted, bearable)
    table[k.GEAR_DAMPING] = 2.0 * GEAR_RATIO_OF_DAMPING * np.sqrt(table[k.GEAR] * lightest)
    if not (stated | drive.flat).all():
        notes.append("Rotor inertia is not stated: 1.6 g·m² per N·m of stall torque is assumed.")
    if (wanted > 1.001 * bearable).any():
        notes.append("Gears are softer than 1° at stall: the time step bears no stiffer spring.")


def _heat_rows(table: Floats, drive: Drive, ambient: float, loop: Loop, notes: list[str]) -> None:
    known = np.isfinite(drive.thermal_resistance) & np.isfinite(drive.thermal_time)
    table[k.THERMAL] = np.where(known, drive.thermal_resistance, 0.0)
    table[k.THERMAL_TIME] = np.where(known, drive.thermal_time, 1.0)
    table[k.HOTTEST] = np.where(np.isfinite(drive.highest_winding), drive.highest_winding, 1e9)
    table[k.FADE], table[k.AMBIENT] = loop.fade, ambient
    if not (known | drive.flat).all():
        notes.append("Thermal data of servos are not stated: windings stay at ambient.")
