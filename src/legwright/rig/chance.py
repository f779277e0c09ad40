"""Draws of the normal distribution, many at a time: the same numbers as drawn one by one."""

from __future__ import annotations

import numpy as np

from legwright.robot.tree import Floats

ROWS = 64
"""Drawn at a time."""


class Chance:
    """Rows of numbers from a stream that nothing else draws from."""

    def __init__(self, random: np.random.Generator, count: int) -> None:
        """Draw nothing yet.

        Args:
            random: The stream.
            count: Numbers in a row.
        """
        self._random, self._count = random, count
        self._rows: list[Floats] = []

    def draw(self) -> Floats:
        """The next row, (count,)."""
        if not self._rows:
            self._rows = list(self._random.standard_normal((ROWS, self._count))[::-1])
        return self._rows.pop()
