"""Planning one cycle, and finding a stance."""

from __future__ import annotations

from pathlib import Path

import pytest

import legwright as lw
from legwright.locomotion.gait import gait
from legwright.locomotion.plan import plan
from legwright.locomotion.stance import footing
from legwright.locomotion.walk import Walk

ROOT = Path(__file__).parents[1]
GOAL = 4e-3
"""Time for 128 samples of a six-legged robot [s]."""


@pytest.mark.parametrize("name", ["tripod", "wave"])
def test_plan_of_six_legs(benchmark, name):
    """128 samples within 4 ms after warm-up."""
    robot = lw.load(ROOT / "robots" / "rook")
    walk = Walk(gait(name), velocity=(0.04, 0.01), turn=0.1)
    assert plan(robot, walk).ok
    benchmark(plan, robot, walk)
    if benchmark.stats is not None:
        assert benchmark.stats["median"] < GOAL


def test_stance_of_a_bare_description(benchmark):
    """The first search on a robot without a sheet; loading is not counted."""
    path = ROOT / "tests" / "data" / "wild" / "r107.urdf"
    footing(lw.load(path))  # compiles the kernels

    def fresh():
        return (lw.load(path),), {}

    found = benchmark.pedantic(footing, setup=fresh, rounds=5)
    assert found.feet.shape == (6, 3)
