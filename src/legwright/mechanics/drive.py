"""What a servo file says, as the constants of one drive at its output shaft.

The model is the permanent-magnet motor behind a gear: winding current i gives output torque
``torque_constant * (i - friction_current)`` while driving, turning gives the back voltage
``emf_constant * speed``. Both constants follow from the two ends of the maker's line (stall
and no load at rated voltage), so that both ends are met exactly whatever the gear loses.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.mechanics.heat import continuous_current, copper_factor
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo
from legwright.robot.tree import Floats, read_only

STATED_AMBIENT = 298.15
"""Ambient for which makers' continuous torque is understood, 25 °C [K]."""

NAN = float("nan")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Drive:
    """Constants of one servo, each of shape (), or of J servos, each of shape (J,).

    A number that the servo file does not give is nan.
    """

    stall_torque: Floats
    """At rated voltage, cold [N·m]."""
    no_load_speed: Floats
    """At rated voltage [rad/s]."""
    cap: Floats
    """Torque limit of electronics or gears; the stall torque where none is stated [N·m]."""
    flat: NDArray[np.bool_]
    """True where torque does not fall with speed: the limits of a bare URDF."""
    voltage: Floats
    """Rated supply voltage [V]."""
    lowest_voltage: Floats
    """Below this the servo resets; 0 where not stated [V]."""
    friction_share: Floats
    """Friction current over stall current of the winding, [0, 1); 0 where not stated."""
    friction_current: Floats
    """Winding current that overcomes friction while turning, 0 where not stated [A]."""
    idle_current: Floats
    """Supply current of the electronics [A]."""
    resistance: Floats
    """Of the winding at 20 °C [Ω]."""
    torque_constant: Floats
    """Output torque per winding current above the friction current, driving [N·m/A]."""
    emf_constant: Floats
    """Back voltage per output speed, and winding torque per current before losses [V·s]."""
    backdrive: Floats
    """Share of an output torque that reaches the motor while the load drives."""
    continuous_torque: Floats
    """As the maker states it, at 25 °C ambient [N·m]."""
    thermal_resistance: Floats
    """Winding to ambient; where not stated, what the stated continuous torque implies [K/W]."""
    thermal_time: Floats
    """[s]"""
    highest_winding: Floats
    """[K]"""


@lru_cache(maxsize=64)
def drive_of(servo: Servo | None) -> Drive:
    """The constants of one servo; remembered, since servos are frozen.

    Args:
        servo: What its file says; None gives a drive of which nothing is known.

    Returns:
        Constants of shape ().
    """
    if servo is None:
        return _built(dict.fromkeys((field.name for field in fields(Drive)), NAN) | {"flat": False})
    row = {**_line(servo), **_motor(servo)}
    row |= _heat(servo, row)
    return _built(row)


@lru_cache(maxsize=4)
def drives_of(robot: Robot) -> Drive:
    """The constants of a robot's leg joints, (J,) each, columns as `Robot.joint_names`."""
    single = [drive_of(robot.servos.get(name)) for name in robot.joint_names]
    names = [field.name for field in fields(Drive)]
    return _built({name: [getattr(one, name) for one in single] for name in names})


def _built(columns: Mapping[str, ArrayLike]) -> Drive:
    flat: NDArray[np.bool_] = np.array(columns["flat"], dtype=np.bool_)
    flat.setflags(write=False)
    numbers = {name: read_only(value) for name, value in columns.items() if name != "flat"}
    return Drive(flat=flat, **numbers)


def _line(servo: Servo) -> dict[str, float | bool]:
    return {
        "stall_torque": servo.stall_torque,
        "no_load_speed": servo.no_load_speed,
        "cap": servo.stall_torque if servo.peak_torque is None else servo.peak_torque,
        "flat": servo.id == "urdf",
        "voltage": _or_nan(servo.rated_voltage),
        "lowest_voltage": servo.lowest_voltage or 0.0,
        "idle_current": servo.idle_current,
    }


def _motor(servo: Servo) -> dict[str, float]:
    """Resistance, friction and the two constants from the ends of the maker's line."""
    volts = _or_nan(servo.rated_voltage)
    resistance = _or_nan(servo.winding_resistance)
    stall = volts / resistance
    if servo.stall_current is not None:
        stall = servo.stall_current - servo.idle_current
    if np.isnan(resistance) and stall > 0.0:
        resistance = volts / stall
    friction = 0.0
    if servo.no_load_current is not None:
        friction = max(servo.no_load_current - servo.idle_current, 0.0)
    torque_constant = emf_constant = NAN
    if stall > friction:
        torque_constant = servo.stall_torque / (stall - friction)
        emf_constant = (volts - friction * resistance) / servo.no_load_speed
        if not emf_constant > 0.0:
            emf_constant = torque_constant / servo.gear_efficiency
    share = friction / stall if stall > friction else 0.0
    return {
        "friction_share": share,
        "friction_current": friction,
        "resistance": resistance,
        "torque_constant": torque_constant,
        "emf_constant": emf_constant,
        "backdrive": backdrive_efficiency(servo),
    }


def _heat(servo: Servo, row: dict[str, float | bool]) -> dict[str, float]:
    resistance = _or_nan(servo.thermal_resistance)
    hottest, stated = _or_nan(servo.highest_winding), _or_nan(servo.continuous_torque)
    if np.isnan(resistance):
        current = stated / row["torque_constant"]
        loss = current**2 * row["resistance"] * float(copper_factor(hottest))
        resistance = (hottest - STATED_AMBIENT) / loss if hottest > STATED_AMBIENT else NAN
    return {
        "continuous_torque": stated,
        "thermal_resistance": resistance,
        "thermal_time": _or_nan(servo.thermal_time),
        "highest_winding": hottest,
    }


def backdrive_efficiency(servo: Servo) -> float:
    """Share of an output torque that reaches the motor while the load drives it.

    Stated, or 2 - 1/η with η the efficiency while driving (equal loss torque both ways), not
    below 0: a gear less efficient than one half holds by itself.

    Source: textbook identity for constant mesh friction (self-locking of screws and worms).
    """
    if servo.backdrive_efficiency is not None:
        return servo.backdrive_efficiency
    return max(2.0 - 1.0 / servo.gear_efficiency, 0.0)


def doubts(servo: Servo) -> tuple[str, ...]:
    """What had to be assumed about a servo, or contradicts itself, one sentence each.

    Args:
        servo: What its file says.

    Returns:
        Sentences for the `why` of a finding; empty when all is stated and fits together.
    """
    said = []
    one = drive_of(servo)
    implied = float(one.torque_constant / one.emf_constant)
    if implied > 1.0:
        said.append(
            f"stall torque times no-load speed is {implied:.2f} times what stall current and "
            "rated voltage can deliver: one of the four is not of the same measurement."
        )
    if np.isnan(one.torque_constant):
        said.append(
            "stall_current (or winding_resistance with rated_voltage) is not stated: "
            "currents and heat are unknown."
        )
    elif servo.no_load_current is None:
        said.append("no_load_current is not stated: friction is taken as none.")
    derived = float(
        one.torque_constant
        * continuous_current(
            one.resistance, one.thermal_resistance, one.highest_winding, STATED_AMBIENT
        )
    )
    stated = servo.continuous_torque
    if stated is not None and stated > 1.25 * derived:
        said.append(
            f"continuous_torque is stated as {stated:.2g} N·m, but winding and thermal data "
            f"give {derived:.2g} N·m: temperatures follow the latter."
        )
    if servo.thermal_resistance is None and not np.isnan(one.thermal_resistance):
        said.append("thermal_resistance follows from the stated continuous torque.")
    return tuple(said)


def _or_nan(value: float | None) -> float:
    return NAN if value is None else float(value)
