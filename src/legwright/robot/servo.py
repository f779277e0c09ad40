"""What one servo can do, as its file says."""

from __future__ import annotations

from pydantic import Field

from legwright.robot.quantities import (
    Current,
    Inertia,
    Mass,
    Number,
    Part,
    Play,
    Resistance,
    Span,
    Temperature,
    ThermalResistance,
    Time,
    Torque,
    Truth,
    TurnRate,
    Voltage,
)
from legwright.robot.sheet_making import Mount


class Servo(Part):
    """One servo model at its output shaft. All values SI after reading.

    Only `stall_torque` and `no_load_speed` are required; whatever is missing makes the
    findings that need it *unknown*.
    """

    id: str = ""
    about: str = ""
    invented: Truth = False
    stall_torque: Torque
    """Torque at zero speed and `rated_voltage` [N·m]."""
    no_load_speed: TurnRate = Field(gt=0.0)
    """Speed at zero torque and `rated_voltage` [rad/s]."""
    rated_voltage: Voltage | None = None
    lowest_voltage: Voltage | None = None
    """Below this the servo resets [V]."""
    highest_voltage: Voltage | None = None
    continuous_torque: Torque | None = None
    """Torque that may be held for ever at 25 °C ambient, if the maker states it [N·m]."""
    peak_torque: Torque | None = None
    """Torque limit set by electronics or gears; the stall torque when None [N·m]."""
    stall_current: Current | None = None
    """Supply current at stall and `rated_voltage`, electronics included [A]."""
    no_load_current: Current | None = None
    """Supply current at no-load speed, electronics included [A]."""
    idle_current: Current = 0.0
    """Supply current of the electronics alone [A]."""
    gear_ratio: Number | None = Field(default=None, gt=0.0)
    """Motor turns per output turn."""
    gear_efficiency: Number = Field(default=0.85, gt=0.0, le=1.0)
    """Output over input power while the motor drives."""
    backdrive_efficiency: Number | None = Field(default=None, ge=0.0, le=1.0)
    """The same while the load drives the motor; 2 - 1/gear_efficiency when None (not below 0)."""
    rotor_inertia: Inertia | None = None
    """At the motor shaft [kg·m²]."""
    backlash: Play = 0.0
    """At the output shaft [rad]."""
    encoder_step: Play | None = None
    """Smallest step of the position sensor, at the output shaft [rad]."""
    current_step: Current | None = None
    """Smallest step of the current sensor [A]."""
    current_noise: Current | None = None
    """Standard deviation of one current reading [A]."""
    winding_resistance: Resistance | None = Field(default=None, gt=0.0)
    """At 20 °C [Ω]; from stall current and rated voltage when None."""
    thermal_resistance: ThermalResistance | None = None
    """Winding to ambient [K/W]."""
    thermal_time: Time | None = Field(default=None, gt=0.0)
    """Time constant of the winding temperature [s]."""
    highest_winding: Temperature | None = None
    """Highest winding temperature [K]."""
    mass: Mass | None = None
    size: tuple[Span, Span, Span] | None = None
    """Edges of the body: along the horn side's length, width, height along the shaft [m]."""
    mount: Mount | None = None


def from_urdf(effort: float, velocity: float) -> Servo:
    """The servo that a bare URDF implies: its limits as peak torque and speed.

    Args:
        effort: URDF effort limit [N·m], > 0.
        velocity: URDF velocity limit [rad/s], > 0.

    Returns:
        A servo whose torque does not fall with speed until the speed limit, everything
        else unknown.
    """
    return Servo.model_construct(
        id="urdf", about="limits of the URDF", stall_torque=effort, no_load_speed=velocity
    )
