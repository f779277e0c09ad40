"""Round dimensions against the slow full path, and the search against brute force."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.fabrication.layout_arrays import (
    GAP,
    HEAT,
    LOSS,
    MARGIN,
    REACH,
    TORQUE,
)
from legwright.fabrication.moving import rebuilt
from legwright.fabrication.rounding import scored
from legwright.locomotion.stance import footing
from legwright.mechanics.workspace import reach_reserve
from legwright.study.rounding import Rounding, Wish, rounding_of
from legwright.study.rounding_cases import SAMPLES
from legwright.study.strains import joint_gap
from legwright.study.trial import trial

ROBOTS = Path(__file__).parents[2] / "robots"
WILD = Path(__file__).parents[1] / "data" / "wild"
SMALL = {"hip_height": None, "coxa": None, "hip_y": None}


@pytest.fixture(scope="module")
def rook() -> Rounding:
    """Rook on a coarse grid, four dimensions free."""
    return rounding_of(lw.load(ROBOTS / "rook"), Wish(grid="10mm", spread=1, pins=SMALL, top=5))


def _slow(rounding: Rounding, legs: np.ndarray) -> dict[int, float]:
    """Scores of a layout by the planner, the loads and the workspace of the full path."""
    robot = rebuilt(rounding.robot, legs, rounding.free.layout.values)
    build, peak, held = rounding.task.build, 0.0, 0.0
    margin = reach = gap = np.inf
    for walk, name in zip(rounding.cases.walks, rounding.cases.names, strict=True):
        own = replace(walk, footing=footing(robot))
        case = trial(robot, rounding.asked, own, payload=rounding.asked.payload,
                     samples=SAMPLES, name=name)  # fmt: skip
        assert case.motion.ok
        margin = min(margin, float(case.loads.margin.min()))
        gap = min(gap, joint_gap(robot, case.motion)[0])
        for index, leg in enumerate(robot.legs.values()):
            near = case.motion.q[:, robot.columns[leg.name]]
            reach = min(reach, float(reach_reserve(leg, case.motion.feet[:, index], near).min()))
        torque = np.abs(case.loads.torque).reshape(SAMPLES, -1, 3)
        peak = max(peak, float((torque / build.peak).max()))
        held = max(held, float((np.sqrt((torque**2).mean(axis=0)) / build.held).max()))
    return {MARGIN: margin, REACH: reach, GAP: gap, TORQUE: peak, HEAT: held}


@pytest.mark.parametrize("rank", [0, 4])
def test_scores_agree_with_the_full_path(rook: Rounding, rank: int) -> None:
    """Referee: lw.plan, lw.loads and reach_reserve on the rebuilt robot.

    Balance and reach are the same to rounding; torques differ by what is in motion.
    """
    one = rook.shortlist[rank]
    slow = _slow(rook, one.legs)
    for index in (MARGIN, REACH, GAP):
        assert one.scores[index] == pytest.approx(slow[index], abs=2e-6)
    for index in (TORQUE, HEAT):
        assert one.scores[index] == pytest.approx(slow[index], rel=0.05)


def test_search_finds_what_brute_force_finds(rook: Rounding) -> None:
    """Every layout of the lattice scored in full: the same five, in the same order."""
    task = rook.task
    picks = np.array(list(product(*(range(count) for count in task.counts))))
    rows = scored(task, picks)
    order = np.argsort(rows[:, LOSS], kind="stable")[:5]
    assert rook.found.proved
    assert rook.found.size == len(picks)
    np.testing.assert_allclose(rook.found.scores[:, LOSS], rows[order, LOSS], rtol=1e-12)
    np.testing.assert_array_equal(rook.found.picks[0], picks[order[0]])
