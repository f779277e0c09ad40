"""Current that a servo draws: in its winding, and from the supply.

While the servo drives the load, the gear's loss and friction come on top; while the load
drives the servo, both help to brake. At rest friction may act either way: holding is reckoned
without friction and with the driving gear loss, which lies between the two, on the cautious
side (no published source; say so where it decides a verdict). Friction grows from none at
rest to its full value over one thousandth of the no-load speed; within that band the cautious
current overstates what braking gives back, by less than that share of the servo's power.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from legwright.mechanics.drive import Drive, drive_of
from legwright.mechanics.heat import REFERENCE, copper_factor
from legwright.robot.servo import Servo
from legwright.robot.tree import Floats

AT_REST = 0.001
"""Share of the no-load speed below which a joint counts as coming to rest."""


def winding_current(servo: Servo | Drive, torque: ArrayLike, speed: ArrayLike) -> Floats:
    """Winding current for a torque at a speed.

    Args:
        servo: One servo, or the drives of J joints.
        torque: That the servo applies, (..., J) [N·m].
        speed: Of the output shaft, (..., J) [rad/s].

    Returns:
        Current, (..., J) [A], positive where the motor pushes along positive torque; nan where
        the servo's stall current is not known.

    Source: linear law of the permanent-magnet motor (MIT 2.007 motor notes); gear losses for
    driving and being driven: textbook; friction as a constant current: common practice.
    """
    d = servo if isinstance(servo, Drive) else drive_of(servo)
    load, turning = np.asarray(torque, np.float64), np.asarray(speed, np.float64)
    motion = np.clip(turning / (AT_REST * d.no_load_speed), -1.0, 1.0)
    driving = 1.0 / d.torque_constant
    relief = (driving - d.backdrive / d.emf_constant) * np.abs(motion)
    gain = np.where(load * motion < 0.0, driving - np.maximum(relief, 0.0), driving)
    return np.asarray(load * gain + d.friction_current * motion)


def supply_current(
    servo: Servo | Drive,
    current: ArrayLike,
    speed: ArrayLike,
    voltage: ArrayLike | None = None,
    *,
    winding: ArrayLike = REFERENCE,
    returns: bool = False,
) -> Floats:
    """Supply current of a servo whose winding carries a current at a speed.

    The switching stage turns supply power into winding power without loss of its own; what it
    loses is in the stated currents: ``V I = R i² + k_e ω i + V I_idle``.

    Args:
        servo: One servo, or the drives of J joints.
        current: Winding current as `winding_current` gives it, (..., J) [A].
        speed: Of the output shaft, (..., J) [rad/s].
        voltage: At the servo, (), (J,) or (..., J) [V]; rated voltage when None.
        winding: Temperature of the winding [K].
        returns: True where braking power may flow back to the supply; else the servo burns it
            and the current does not fall below the idle current.

    Returns:
        Supply current, (..., J) [A]; nan where not known.

    Source: power balance of a lossless switching stage, textbook.
    """
    d = servo if isinstance(servo, Drive) else drive_of(servo)
    i = np.asarray(current, dtype=np.float64)
    volts = d.voltage if voltage is None else np.asarray(voltage, dtype=np.float64)
    heat = d.resistance * copper_factor(winding) * i * i
    power = heat + d.emf_constant * np.asarray(speed, np.float64) * i
    if not returns:
        power = np.maximum(power, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(power / volts + d.idle_current)
