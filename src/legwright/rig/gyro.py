"""The chance in the turn rates that an inertial sensor reads; see `_inertial_kernel`."""

from __future__ import annotations

import numpy as np

from legwright.rig.chance import Chance
from legwright.robot.tree import Floats

BIAS = np.radians(0.2)
"""Standard deviation of the constant error after switching on [rad/s]; common practice, no
published source."""


class Gyro:
    """A constant error, drawn once per seed, and noise."""

    def __init__(self, *, seed: int) -> None:
        """Switch it on.

        Args:
            seed: Of noise and error; the world's, drawn from a stream of its own.
        """
        random = np.random.default_rng((seed, 1))
        self.bias: Floats = BIAS * random.standard_normal(3)
        """Its constant error [rad/s]."""
        self.draw = Chance(random, 3).draw
