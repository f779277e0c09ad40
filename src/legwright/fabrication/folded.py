"""What a folded part weighs, from the bodies that it is made of."""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from legwright.robot.tree import Floats


class Folded(ABC):
    """A part folded of one sheet."""

    density: float
    """[kg/m³]"""

    @property
    @abstractmethod
    def _bodies(self) -> tuple[tuple[float, Floats], ...]:
        """Volumes [m³] and their middles, (3,) in the part's own frame [m]."""

    @property
    def volume(self) -> float:
        """Of the folded part [m³]."""
        return sum(volume for volume, _ in self._bodies)

    @property
    def mass(self) -> float:
        """Of one [kg]."""
        return self.volume * self.density

    @property
    def com(self) -> Floats:
        """Centre of mass of the folded part, (3,) in its own frame [m]."""
        weights = np.array([volume for volume, _ in self._bodies])
        places = np.array([place for _, place in self._bodies])
        return np.asarray(weights @ places / weights.sum())
