"""Torque that a servo can give: at a speed and voltage, at its peak, and for ever.

At supply voltage V and speed ω the winding can carry at most ``(V - k_e ω) / R``. Seen from
the maker's line (stall torque τs, no-load speed ω0, both at rated voltage V0) that is::

    τ = τs [ f - |ω| / ω0 ],   f = (V / V0 - ι) / (1 - ι)   (cold winding)

with ι the no-load over the stall current of the winding: no-load speed falls by f, a little
more than the voltage does, because friction takes its share first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from legwright.mechanics.drive import STATED_AMBIENT, Drive, drive_of
from legwright.mechanics.heat import REFERENCE, continuous_current, copper_factor
from legwright.robot.servo import Servo
from legwright.robot.tree import Floats


def available_torque(
    servo: Servo | Drive,
    speed: ArrayLike,
    voltage: ArrayLike | None = None,
    *,
    driven: ArrayLike = False,
    winding: ArrayLike = REFERENCE,
) -> Floats:
    """Largest torque at a speed and supply voltage.

    While it drives, a servo follows its torque-speed line up to the cap of its electronics or
    gears. While the load drives it, supply and back voltage add, so the line does not bind:
    the stall torque at that voltage and the cap do.

    Args:
        servo: One servo, or the drives of J joints.
        speed: Output speed, either sign, (..., J) [rad/s].
        voltage: At the servo, (), (J,) or (..., J) [V]; rated voltage when None. A servo
            without rated voltage is taken at its stated line.
        driven: True where torque and speed have opposite signs, (..., J).
        winding: Temperature of the winding [K]; 20 °C is the maker's cold line.

    Returns:
        Torque magnitude, (..., J) [N·m]; 0 beyond the no-load speed while driving and below
        the servo's lowest voltage; nan where the servo is not known.

    Source: linear law of the permanent-magnet motor, MIT 2.007 motor notes
    (lancet.mit.edu/motor/motors3.html); braking cap: common practice, no published source.
    """
    d = servo if isinstance(servo, Drive) else drive_of(servo)
    pace = np.abs(np.asarray(speed, dtype=np.float64)) / d.no_load_speed
    volts = _relative(d, voltage)
    rest = np.where(d.flat, 1.0, _share(d, volts, 0.0, winding))
    moving = np.where(d.flat, np.where(pace <= 1.0, 1.0, 0.0), _share(d, volts, pace, winding))
    share = np.where(driven, rest, np.where(np.isnan(pace), np.nan, moving))
    torque = np.minimum(d.stall_torque * np.maximum(share, 0.0), d.cap)
    return np.where(volts * d.voltage < d.lowest_voltage, 0.0, torque)


def no_load_speed(servo: Servo | Drive, voltage: ArrayLike | None = None) -> Floats:
    """Speed at which no torque is left, at a supply voltage [rad/s].

    Args:
        servo: One servo, or the drives of J joints.
        voltage: At the servo [V]; rated voltage when None.
    """
    d = servo if isinstance(servo, Drive) else drive_of(servo)
    factor = np.where(d.flat, 1.0, _share(d, _relative(d, voltage), 0.0, REFERENCE))
    return d.no_load_speed * np.maximum(factor, 0.0)


def peak_torque(servo: Servo | Drive, voltage: ArrayLike | None = None) -> Floats:
    """Largest torque at rest at a supply voltage, cold winding [N·m]."""
    return available_torque(servo, 0.0, voltage)


def continuous_torque(servo: Servo | Drive, ambient: ArrayLike = STATED_AMBIENT) -> Floats:
    """Torque that may be held for ever.

    Stated by the maker for 25 °C and carried to the given ambient at equal winding
    temperature (heat goes with torque squared); where none is stated, the torque at which the
    winding settles at its limit. Never above the peak torque.

    Args:
        servo: One servo, or the drives of J joints.
        ambient: [K]

    Returns:
        Torque, () or (J,) [N·m]; nan where neither is known. A stated torque without a highest
        winding temperature cannot be carried to another ambient and is returned as stated.

    Source: first-order winding model; see `legwright.mechanics.heat`.
    """
    d = servo if isinstance(servo, Drive) else drive_of(servo)
    surroundings = np.asarray(ambient, dtype=np.float64)
    room = np.maximum(d.highest_winding - surroundings, 0.0)
    derating = np.sqrt(room / (d.highest_winding - STATED_AMBIENT))
    stated = d.continuous_torque * np.where(np.isnan(derating), 1.0, derating)
    derived = d.torque_constant * continuous_current(
        d.resistance, d.thermal_resistance, d.highest_winding, surroundings
    )
    return np.minimum(np.where(np.isnan(stated), derived, stated), d.cap)


def _relative(d: Drive, voltage: ArrayLike | None) -> Floats:
    """Voltage over rated voltage; 1 where either is not known."""
    if voltage is None:
        return np.ones_like(d.voltage)
    ratio = np.asarray(voltage, dtype=np.float64) / d.voltage
    return np.where(np.isnan(ratio), 1.0, ratio)


def _share(d: Drive, volts: Floats, pace: ArrayLike, winding: ArrayLike) -> Floats:
    """Torque over stall torque: what the winding current leaves after friction.

    In units of the cold stall current at rated voltage the winding carries
    ``(volts - (1 - ι) pace) / copper``; friction takes ι of it.
    """
    turning = (1.0 - d.friction_share) * np.asarray(pace)
    current = (volts - turning) / copper_factor(winding)
    return np.asarray((current - d.friction_share) / (1.0 - d.friction_share))
