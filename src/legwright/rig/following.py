"""Leads legs along a path while the others stand, and back the same way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.locomotion.command import Command, Kind
from legwright.locomotion.path import Path
from legwright.locomotion.signals import Targets


@dataclass(slots=True)
class Following:
    """Where on a path the legs are.

    As soon as anything else is asked, whatever it is, the legs go back to where they stood, the
    way they came and as fast; only then does the controller, which believes them there, go on.
    """

    rate: float
    """Bus cycles per second [Hz]."""
    path: Path | None = None
    row: int = 0

    @property
    def away(self) -> bool:
        """Whether legs are not where the controller believes them."""
        return self.row > 0

    def step(self, command: Command, told: Targets | None) -> Targets | None:
        """What the joints are to do in this cycle.

        Args:
            command: What is asked.
            told: What they were told last.

        Returns:
            Targets, or None where the controller is to say.
        """
        wanted = command.path if command.kind is Kind.FOLLOW else None
        if not self.away:
            self.path = wanted
        path = self.path
        if path is None or told is None:
            return None
        before = self.row
        self.row = min(before + 1, len(path.q) - 1) if wanted is path else max(before - 1, 0)
        columns = list(path.columns)
        q, qd = told.q.copy(), np.zeros_like(told.q)
        q[columns] = path.q[self.row]
        qd[columns] = (path.q[self.row] - path.q[before]) * self.rate
        return Targets(q=q, qd=qd)

    def forget(self) -> None:
        """Power is gone: wherever the legs are, they do not go back."""
        self.path, self.row = None, 0
