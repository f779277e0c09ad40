"""The curves of a walk as bins of a fixed width: nothing is lost but its exact moment.

When the bins are used up, neighbours are laid together and the width doubles, so that a walk of
any length takes the same memory, and a spike stays a spike.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

MOST = 6000
"""Bins of one history."""
WIDTH = 0.02
"""Width of a bin at the start [s]."""


class History:
    """Lowest and highest value of each curve in each bin."""

    def __init__(self, columns: int, *, width: float = WIDTH, most: int = MOST) -> None:
        """Empty.

        Args:
            columns: Values of a row.
            width: Of a bin at the start [s].
            most: Bins; even.
        """
        self.width, self.count = width, 0
        self._low = np.full((most, columns), np.nan, dtype=np.float32)
        self._high = self._low.copy()

    def add(self, time: Floats, rows: Floats) -> None:
        """Take in rows.

        Args:
            time: Of each, (T,), rising, not before what is in already [s].
            rows: (T, C); nan where not known.
        """
        if len(time) == 0:
            return
        while int(time[-1] / self.width + 1e-6) >= len(self._low):
            self._fold()
        bins = (time / self.width + 1e-6).astype(np.int64)
        for n in np.unique(bins).tolist():
            chosen = rows[bins == n]
            self._low[n] = np.fmin(self._low[n], np.fmin.reduce(chosen, axis=0))
            self._high[n] = np.fmax(self._high[n], np.fmax.reduce(chosen, axis=0))
        self.count = max(self.count, int(bins[-1]) + 1)

    def since(self, start: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Bins from one on.

        Args:
            start: Index of the first.

        Returns:
            Lowest and highest values, each (N, C); windows into what is kept: use them at once.
        """
        rows = slice(start, self.count)
        return self._low[rows], self._high[rows]

    def _fold(self) -> None:
        """Lay neighbours together."""
        half = len(self._low) // 2
        for values, better in ((self._low, np.fmin), (self._high, np.fmax)):
            values[:half] = better(values[0 : 2 * half : 2], values[1 : 2 * half : 2])
            values[half:] = np.nan
        self.count = (self.count + 1) // 2
        self.width *= 2.0
