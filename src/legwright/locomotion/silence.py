"""Joints that do not answer: a short gap is bridged, a long one is a loss."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite, sqrt

import numpy as np

from legwright.locomotion.signals import Sensed
from legwright.robot.tree import Floats

PATIENCE = 0.06
"""A joint that does not answer for longer is lost [s]."""
PLAUSIBLE = 0.5
"""A direction of gravity whose length is farther than this from 1 is no reading."""


def heard(sensed: Sensed) -> tuple[Sensed, bool]:
    """The same readings, with infinite positions as nan and a broken direction as none.

    Args:
        sensed: As it came.

    Returns:
        The readings, and whether all joints answer.
    """
    q, up, spin, whole = sensed.q, sensed.up, sensed.spin, True
    if not isfinite(q.dot(q)):
        sensed = replace(sensed, q=np.where(np.isfinite(q), q, np.nan))
        whole = not np.isnan(sensed.q).any()
    if up is not None and not abs(sqrt(up.dot(up)) - 1.0) < PLAUSIBLE:
        sensed = replace(sensed, up=None)
    if spin is not None and not isfinite(spin.dot(spin)):
        sensed = replace(sensed, spin=None)
    return sensed, whole


class Silence:
    """Counts for how long each joint has not answered."""

    def __init__(self, joints: int) -> None:
        """All answer.

        Args:
            joints: J.
        """
        self._time, self._waiting = np.zeros(joints), False
        self.lost: tuple[int, ...] = ()
        """Columns of the joints that are lost; a lost joint is never trusted again."""

    def count(self, q: Floats, whole: bool, dt: float) -> tuple[int, ...]:
        """Take in one step's joint positions.

        Args:
            q: (J,), nan where a joint does not answer [rad].
            whole: Whether none is nan.
            dt: Since the last step [s].

        Returns:
            Columns of the joints that are lost from now on.
        """
        if whole:
            if self._waiting:
                self._time[:], self._waiting = 0.0, False
            return ()
        self._waiting = True
        quiet = np.isnan(q)
        self._time = np.where(quiet, self._time + dt, 0.0)
        new = [int(j) for j in np.flatnonzero(self._time > PATIENCE) if int(j) not in self.lost]
        self.lost += tuple(new)
        return tuple(new)

    def bridged(self, sensed: Sensed, asked: Floats) -> Sensed:
        """The readings with gaps, and joints that are lost, filled with what was asked of them.

        Args:
            sensed: Readings.
            asked: (J,) joint positions of the last step [rad].
        """
        if not self._waiting and not self.lost:
            return sensed
        return replace(sensed, q=np.where(np.isnan(sensed.q), asked, sensed.q))
