"""Counts and per mille of rated current, as drives speak, to joint positions and currents."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from legwright.rig.calibration import Calibration, JointCalibration
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Scales:
    """Conversion between counts and joint positions, for R axes."""

    direction: Floats
    """(R,): 1 or -1."""
    zero: Floats
    """(R,) [rad]."""
    counts: Floats
    """(R,): per turn of the output shaft."""
    rated: Floats
    """(R,): rated current [A]."""

    def position(self, counts: ArrayLike) -> Floats:
        """Joint positions, (R,) [rad]."""
        turns = np.asarray(counts, dtype=np.float64) / self.counts
        return np.asarray(self.direction * turns * 2.0 * np.pi + self.zero)

    def count(self, q: ArrayLike) -> Floats:
        """Counts, (R,), rounded, as floats so that nan stays nan."""
        turns = self.direction * (np.asarray(q, dtype=np.float64) - self.zero) / (2.0 * np.pi)
        return np.asarray(np.round(turns * self.counts))

    def speed(self, counts: ArrayLike) -> Floats:
        """Joint velocities from counts per second, (R,) [rad/s]."""
        turns = np.asarray(counts, dtype=np.float64) / self.counts
        return np.asarray(self.direction * turns * 2.0 * np.pi)

    def current(self, per_mille: ArrayLike) -> Floats:
        """Winding currents along the joint axes, (R,) [A]."""
        return np.asarray(
            self.direction * np.asarray(per_mille, dtype=np.float64) * 1e-3 * self.rated
        )

    def per_mille(self, current: ArrayLike) -> Floats:
        """Shares of the rated current, (R,), rounded [per mille]."""
        return np.asarray(np.round(self.direction * np.asarray(current) / self.rated * 1e3))


def scales_of(
    calibration: Calibration, names: tuple[str, ...], *, counts: ArrayLike, rated: ArrayLike
) -> Scales:
    """Conversion for joints in this order.

    Args:
        calibration: What is known; joints that are missing count as not flipped, zero at 0.
        names: Joints, R of them.
        counts: Per turn of the output shaft, (R,).
        rated: Rated currents, (R,) [A].
    """
    ones = [calibration.joints.get(name, JointCalibration()) for name in names]
    return Scales(
        direction=np.array([float(one.direction) for one in ones]),
        zero=np.array([one.zero for one in ones]),
        counts=np.broadcast_to(np.asarray(counts, dtype=np.float64), (len(names),)).copy(),
        rated=np.broadcast_to(np.asarray(rated, dtype=np.float64), (len(names),)).copy(),
    )
