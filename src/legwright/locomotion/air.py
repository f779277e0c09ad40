"""What the contact observer must know of one machine: friction, and how its readings scatter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.abilities import Abilities
from legwright.mechanics.drive import drives_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

FORCE_NOISE = 0.11
"""Assumed standard deviation of the felt force, over what gear friction is at the foot: as seen
in the physics world."""
LEAST_FORCE_NOISE = 0.1
"""[N]"""
ERROR_NOISE = 4e-5
"""Assumed standard deviation of the foot's following error besides its sensors' steps [m]: as
seen in the physics world."""
CORRELATION = 0.3
"""Assumed correlation of the two in the air."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AirCalibration:
    """Of one machine, found in the air; one number per joint or leg, in the house's order."""

    friction: Floats
    """(J,): gear friction while turning [N·m]."""
    force_noise: Floats
    """(L,): standard deviation of the felt force in the air [N]."""
    error_noise: Floats
    """(L,): standard deviation of the foot's vertical following error in the air [m]."""
    correlation: Floats
    """(L,): correlation of the two, -1 to 1."""

    def __post_init__(self) -> None:
        """Refuse what no machine shows; own the arrays."""
        for name in ("friction", "force_noise", "error_noise", "correlation"):
            value = read_only(getattr(self, name))
            if value.ndim != 1 or not np.isfinite(value).all():
                raise RequestError(f"calibration.{name}", value.shape, "a row of finite numbers")
            object.__setattr__(self, name, value)
        for name in ("force_noise", "error_noise"):
            if not (getattr(self, name) > 0.0).all():
                raise RequestError(
                    f"calibration.{name}", float(getattr(self, name).min()), "more than 0"
                )
        if (self.friction < 0.0).any():
            raise RequestError("calibration.friction", float(self.friction.min()), "at least 0")
        if (np.abs(self.correlation) > 0.99).any():
            worst = float(np.abs(self.correlation).max())
            raise RequestError("calibration.correlation", worst, "within ±0.99")


def assumed(robot: Robot, able: Abilities) -> AirCalibration:
    """What is assumed of a machine that was never calibrated, from its sheet.

    Args:
        robot: The robot.
        able: Its abilities.

    Returns:
        Friction of the sheet's no-load currents; noise in proportion to friction and to the
        position sensors' steps.
    """
    drive = drives_of(robot)
    friction = np.nan_to_num(drive.friction_current * drive.torque_constant)
    force, error = [], []
    for name, leg in robot.legs.items():
        span = robot.columns[name]
        arms = np.abs(leg.jacobian(able.fixed.rest[span])[2])
        best = int(arms.argmax())
        servo = robot.servos.get(robot.joint_names[span.start + best])
        step = (getattr(servo, "encoder_step", None) or 0.0) * arms[best]
        force.append(FORCE_NOISE * friction[span][best] / max(float(arms[best]), 1e-3))
        error.append(np.hypot(step / np.sqrt(12.0), ERROR_NOISE))
    return AirCalibration(
        friction=friction,
        force_noise=np.maximum(force, LEAST_FORCE_NOISE),
        error_noise=np.array(error),
        correlation=np.full(len(force), CORRELATION),
    )
