"""The lattice of layouts: all combinations of allowed values, nearest to today's first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

Picks = NDArray[np.int64]
BINS = 4096
"""Of the count of combinations by cost."""


def size_of(costs: Sequence[Floats]) -> int:
    """How many combinations there are."""
    total = 1
    for one in costs:
        total *= len(one)
    return total


def between(costs: Sequence[Floats], low: float, high: float) -> tuple[Picks, Floats]:
    """All combinations whose summed cost lies in (low, high], cheapest first.

    Args:
        costs: For each dimension the costs of its values, >= 0.
        low: Excluded.
        high: Included; may be inf.

    Returns:
        (N, D) places, and their costs (N,).
    """
    rest = np.array([float(one.min()) for one in costs])
    ahead = np.append(np.cumsum(rest[::-1])[::-1], 0.0)
    most = np.array([float(one.max()) for one in costs])
    beyond = np.append(np.cumsum(most[::-1])[::-1], 0.0)
    picks, sums = np.zeros((1, 0), dtype=np.int64), np.zeros(1)
    slack = 1e-12
    for d, one in enumerate(costs):
        joined = (sums[:, None] + one[None, :]).ravel()
        keep = joined + ahead[d + 1] <= high + slack
        keep &= joined + beyond[d + 1] > low + slack
        old = np.repeat(np.arange(len(sums)), len(one))[keep]
        new = np.tile(np.arange(len(one)), len(sums))[keep]
        picks, sums = np.column_stack([picks[old], new]), joined[keep]
    fine = (sums > low) & (sums <= high)
    picks, sums = picks[fine], sums[fine]
    order = np.argsort(sums, kind="stable")
    return picks[order], sums[order]


def shells(costs: Sequence[Floats], first: int, most: int) -> list[float]:
    """Upper ends of cost bands with about first, 2 first, 4 first … combinations below them.

    Args:
        costs: For each dimension the costs of its values, >= 0.
        first: Combinations in the first band.
        most: Combinations below the last end, about; inf stands behind it where fewer exist.

    Returns:
        Ascending ends.
    """
    top = sum(float(one.max()) for one in costs)
    if size_of(costs) <= first or top <= 0.0:
        return [float("inf")]
    scale = (BINS - 1) / top
    count = np.zeros(BINS)
    count[0] = 1.0
    for one in costs:
        more = np.zeros(BINS)
        for cost in one:
            shift = int(np.ceil(cost * scale))
            more[shift:] += count[: BINS - shift]
        count = more
    below = np.cumsum(count)
    ends: list[float] = []
    wanted = float(first)
    while wanted <= min(most, below[-1]):
        end = (int(np.searchsorted(below, wanted)) + 1) / scale
        if not ends or end > ends[-1]:
            ends.append(end)
        wanted *= 2.0
    if size_of(costs) <= most:
        ends.append(float("inf"))
    return ends
