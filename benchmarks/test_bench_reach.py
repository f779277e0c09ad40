"""Closed-form reach: a large batch for one leg, and one call for six feet."""

from __future__ import annotations

from pathlib import Path
from time import process_time
from typing import Any

import numpy as np
import pytest

from legwright.mechanics.kinematics import kinematics_of
from legwright.mechanics.reach import feet_of, reach_feet
from legwright.robot.loading import load

ROOK = Path(__file__).parents[1] / "robots" / "rook"


@pytest.mark.benchmark(timer=process_time)
def test_batch_of_100_000_targets(benchmark: Any) -> None:
    """Target: at least 3 million legs per second (at most 33 ms of processor time)."""
    leg = next(iter(load(ROOK, kinematics_of).legs.values()))
    q = np.random.default_rng(1).uniform(leg.lower, leg.upper, (100_000, 3))
    points = leg.foot(q)
    answer = benchmark(lambda: leg.reach(points, near=q))
    assert answer.ok.all()
    benchmark.extra_info["million_legs_per_s"] = 0.1 / benchmark.stats["median"]


def test_six_feet(benchmark: Any) -> None:
    """Target: at most 15 µs."""
    robot = load(ROOK, kinematics_of)
    lower = np.concatenate([leg.lower for leg in robot.legs.values()])
    upper = np.concatenate([leg.upper for leg in robot.legs.values()])
    q = (lower + upper) / 2.0
    feet = feet_of(robot, q)
    answer = benchmark(lambda: reach_feet(robot, feet, near=q))
    assert answer.ok.all()


def test_out_of_reach(benchmark: Any) -> None:
    """No target: 1,000 points outside the region, nearest point of its edge for each."""
    leg = next(iter(load(ROOK, kinematics_of).legs.values()))
    rng = np.random.default_rng(2)
    points = leg.hip + rng.uniform(-1.0, 1.0, (5_000, 3))
    points = points[~leg.reach(points).ok][:1_000]
    answer = benchmark(lambda: leg.reach(points))
    assert not answer.ok.any()
