"""Kernel: what an inertial sensor on the body reads."""

from __future__ import annotations

from math import sqrt

import numpy as np

from legwright.kernel import within

TILT_NOISE = 0.002
"""Standard deviation of one reading of the direction against gravity [rad]; common practice, no
published source."""
SPIN_NOISE = float(np.radians(0.1))
"""Standard deviation of one reading of a turn rate [rad/s]; common practice, no published
source."""


@within
def read_inertial(turn, velocity, against, bias, chance, draws, up, spin):  # type: ignore[no-untyped-def]
    """Direction against gravity and turn rates, with noise.

    Args:
        turn: Orientation of the body, row by row, (9,).
        velocity: Angular velocity of the body, world frame, (3,) [rad/s].
        against: Direction against gravity, world frame, (3,).
        bias: Constant error of the turn rates, (3,) [rad/s].
        chance: Draws of the normal distribution for the direction, (3,).
        draws: The same for the turn rates, (3,).
        up: Direction against gravity, body frame, (3,); written.
        spin: Angular velocity, body frame, (3,); written [rad/s].
    """
    size = 0.0
    for axis in range(3):
        up[axis] = TILT_NOISE * chance[axis]
        spin[axis] = bias[axis] + SPIN_NOISE * draws[axis]
        for k in range(3):
            up[axis] += turn[3 * k + axis] * against[k]
            spin[axis] += turn[3 * k + axis] * velocity[k]
        size += up[axis] ** 2
    for axis in range(3):
        up[axis] /= sqrt(size)
