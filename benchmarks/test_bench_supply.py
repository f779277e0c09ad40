"""The electrical part of a check: one walk's supply, all of a robot's, and choosing parts."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import legwright as lw
from legwright.electrics.choose import choose
from legwright.electrics.circuit import circuit_of
from legwright.electrics.supply import supply
from legwright.locomotion.stance import footing
from legwright.study.asked import asked_of
from legwright.study.bench import Bench, feed, lay_out
from legwright.study.checks.bus import check_bus
from legwright.study.checks.energy import check_energy
from legwright.study.checks.supply import check_supply
from legwright.study.checks.wiring import check_wiring

ROOK = Path(__file__).parents[1] / "robots" / "rook"
GOAL_CHECK, GOAL_CHOICE = 1.5, 10.0
"""Electrical part of a warm check, and choosing [s]."""


@pytest.fixture(scope="module")
def bench() -> Bench:
    robot = lw.load(ROOK)
    stand = footing(robot)
    return lay_out(robot, asked_of(robot, stand), stand, lambda *_: None)


def electrics(bench: Bench) -> int:
    fed = feed(bench)
    checks = (check_supply, check_wiring, check_bus, check_energy)
    return sum(1 for check in checks for _ in check(fed))


def test_one_walk(benchmark, bench):
    case = bench.cases["tripod forward"]
    circuit = circuit_of(bench.robot)
    options = {"winding": case.draw.winding, "ambient": case.draw.ambient}
    supply(bench.robot, circuit, case.motion, case.loads, **options)
    one = benchmark(supply, bench.robot, circuit, case.motion, case.loads, **options)
    assert not one.brown_out


def test_electrical_part_of_a_check(benchmark, bench):
    electrics(bench)
    count = benchmark.pedantic(electrics, args=(bench,), rounds=3)
    assert count > 30
    if not os.environ.get("NO_TIME_LIMITS"):
        assert benchmark.stats.stats.min < GOAL_CHECK


def test_choose_for_me(benchmark, bench):
    fed = feed(bench)
    supplies = list(fed.power.supplies.values())
    choice = benchmark.pedantic(choose, args=(bench.robot, fed.power.circuit, supplies), rounds=2)
    assert choice.mass < choice.mass_before
    if not os.environ.get("NO_TIME_LIMITS"):
        assert benchmark.stats.stats.min < GOAL_CHOICE
