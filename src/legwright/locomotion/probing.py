"""Pushing a foot against the ground until a force is felt."""

from __future__ import annotations

from dataclasses import dataclass, field

SPEED = 0.006
"""Speed at which a probing foot goes on after it touched [m/s]."""
MEMORY = 0.02
"""Time constant with which the felt push is smoothed [s]."""
AGREED = 0.01
"""So long the smoothed push must stay at what is asked [s]."""
NEAR, SLOWEST = 0.6, 0.12
"""Within this share of the asked push the foot slows down, to this share of its speed."""


@dataclass(slots=True, eq=False)
class Probing:
    """One probing: what is asked, and what is felt so far."""

    wanted: float
    """[N]"""
    felt: float = 0.0
    """Smoothed, until it was enough [N]."""
    _since: float = field(default=0.0)

    def enough(self, push: float, dt: float) -> float:
        """Take in one step's push.

        Args:
            push: As felt [N].
            dt: Since the last step [s].

        Returns:
            How much the foot is to slow down: 0 not at all, 1 to rest, for all is reached.
        """
        if self._since >= AGREED:  # as it comes to rest gear friction rises, and is felt as force
            return 1.0
        self.felt += min(dt / MEMORY, 1.0) * (push - self.felt)
        self._since = self._since + dt if self.felt >= self.wanted else 0.0
        if self._since >= AGREED:
            return 1.0
        lack = (self.wanted - self.felt) / (NEAR * self.wanted)
        return 1.0 - min(max(lack, SLOWEST), 1.0)
