"""The turn rates that an inertial sensor on the body reads; see `_servo_kernel.read_sensors`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from legwright.rig.chance import Chance
from legwright.robot.tree import Floats

if TYPE_CHECKING:
    import mujoco

NOISE, BIAS = np.radians(0.1), np.radians(0.2)
"""Standard deviations of one reading, and of the constant error after switching on [rad/s];
common practice, no published source."""


class Gyro:
    """Three turn rates with noise and a constant error, drawn once per seed."""

    def __init__(self, data: mujoco.MjData, body: int, *, seed: int) -> None:
        """Fix it to a body.

        Args:
            data: The engine's state, read at each reading.
            body: The engine's number of the body.
            seed: Of noise and error; the world's, drawn from a stream of its own.
        """
        random = np.random.default_rng((seed, 1))
        self.bias: Floats = BIAS * random.standard_normal(3)
        """Its constant error [rad/s]."""
        self._fixed = data.xmat[body], data.cvel[body, :3], self.bias, float(NOISE)
        self._chance = Chance(random, 3)

    def view(self) -> tuple[Floats, Floats, Floats, float, Floats]:
        """What `read_sensors` takes, noise drawn anew."""
        return *self._fixed, self._chance.draw()
