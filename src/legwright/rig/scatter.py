"""How much single servos differ from their file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.errors import RequestError
from legwright.rig import _servo_kernel as k
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """How much single servos differ from their file, drawn once per seed and joint."""

    friction: float = 0.0
    """Half-width of an even spread of friction, as a share."""
    torque_constant: float = 0.0
    """Likewise of the motor constant."""

    def __post_init__(self) -> None:
        """Refuse shares that would turn a sign."""
        for name in ("friction", "torque_constant"):
            value = getattr(self, name)
            if not 0.0 <= value < 1.0:
                raise RequestError(f"scatter.{name}", value, "0 or more and less than 1")


NONE = Scatter()
"""All servos as their file has them."""


def scattered(constants: Floats, scatter: Scatter, random: np.random.Generator) -> Floats:
    """The servos' constants with each servo's own friction and motor constant.

    Args:
        constants: As the file has them, (CONSTANTS, J); see `_servo_kernel`.
        scatter: How much they differ.
        random: Where chance comes from.
    """
    table, count = constants.copy(), constants.shape[1]
    table[k.COULOMB] *= 1.0 + scatter.friction * random.uniform(-1.0, 1.0, count)
    table[k.EMF] *= 1.0 + scatter.torque_constant * random.uniform(-1.0, 1.0, count)
    return table
