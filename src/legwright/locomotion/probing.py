"""Pushing a foot against the ground until a force is felt."""

from __future__ import annotations

from dataclasses import dataclass, field

SPEED = 0.006
"""Speed at which a probing foot goes on after it touched [m/s]."""
MEMORY = 0.02
"""Time constant with which the felt push is smoothed [s]."""
AGREED = 0.01
"""So long the smoothed push must stay at what is asked [s]."""


@dataclass(slots=True, eq=False)
class Probing:
    """One probing: what is asked, and what is felt so far."""

    wanted: float
    """[N]"""
    felt: float = 0.0
    """Smoothed [N]."""
    _since: float = field(default=0.0)

    def reached(self, push: float, dt: float) -> bool:
        """Take in one step's push.

        Args:
            push: As felt [N].
            dt: Since the last step [s].

        Returns:
            Whether what is asked is reached.
        """
        self.felt += min(dt / MEMORY, 1.0) * (push - self.felt)
        self._since = self._since + dt if self.felt >= self.wanted else 0.0
        return self._since >= AGREED
