"""Round dimensions: layouts scored in full per minute, and a whole search."""

from __future__ import annotations

from pathlib import Path
from time import process_time
from typing import Any

import numpy as np
import pytest

import legwright as lw
from legwright.fabrication.rounding import scored, search
from legwright.study.rounding import Rounding, Wish, rounding_of

ROOK = Path(__file__).parents[1] / "robots" / "rook"


@pytest.fixture(scope="module")
def rook() -> Rounding:
    """Rook on a grid of 10 mm, five values each."""
    return rounding_of(lw.load(ROOK), Wish(grid="10mm"))


@pytest.mark.benchmark(timer=process_time)
def test_layouts_scored_in_full(benchmark: Any, rook: Rounding) -> None:
    """Target: 100,000 a minute on two cores, so at most 1.2 ms of processor time each."""
    task, rng = rook.task, np.random.default_rng(1)
    picks = np.stack([rng.integers(0, count, 256) for count in task.counts], axis=1)
    rows = benchmark(lambda: scored(task, picks, threads=1))
    assert np.isfinite(rows).any()
    benchmark.extra_info["per_minute_two_cores"] = 2 * 60 * len(picks) / benchmark.stats["median"]


def test_a_whole_search(benchmark: Any, rook: Rounding) -> None:
    """No target: the proved best ten of 200,000 layouts."""
    found = benchmark(lambda: search(rook.task, top=10))
    assert found.proved
    benchmark.extra_info["lattice"] = found.size
