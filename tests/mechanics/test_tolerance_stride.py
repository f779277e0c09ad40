"""Tolerances in many poses at once: chi-square tables, linear programming, sampled legs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.stats import chi2

from legwright.mechanics.opening import load
from legwright.mechanics.tolerance_chain import deviated_feet, sensitivities
from legwright.mechanics.tolerance_sources import sources_of
from legwright.mechanics.tolerance_stack import INSIDE
from legwright.mechanics.tolerance_stride import radius, settled
from legwright.robot.sheet_making import Tolerances

TOP = Path(__file__).parents[2]


def test_derivatives_of_many_poses_are_finite_differences() -> None:
    """Referee: central differences of the exact place, pose by pose."""
    robot = load(TOP / "robots" / "heron")
    leg = robot.legs["right-middle"]
    medium = Tolerances.model_validate({"general": "m"})
    deviations = sources_of(leg.chain, medium, robot.servos).deviations
    poses = np.random.default_rng(0).uniform(-0.6, 0.6, (2, 3, 3))
    found = sensitivities(leg.chain, poses, deviations)
    assert found.shape == (2, 3, 3, len(deviations))
    step = 1e-6 * np.eye(len(deviations))
    for at in np.ndindex(2, 3):
        ahead = deviated_feet(leg.chain, poses[at], deviations, step)
        behind = deviated_feet(leg.chain, poses[at], deviations, -step)
        assert found[at] == pytest.approx((ahead - behind).T / 2e-6, abs=1e-9)


@pytest.mark.parametrize("ways", [1, 2, 3])
def test_alike_spread_in_every_direction_is_a_chi_square(ways: int) -> None:
    """Referee: scipy's table; there the estimate is exact."""
    arms = np.zeros((4, 3, 3))
    arms[:, :ways, :ways] = np.eye(ways)
    found = radius(arms, np.full(3, 0.7))
    assert found == pytest.approx(0.7 * np.sqrt(chi2.ppf(INSIDE, ways)), rel=1e-12)
    assert radius(np.zeros((2, 3, 3)), np.ones(3)) == pytest.approx([0.0, 0.0])


def test_unlike_spreads_are_ranked() -> None:
    """Referee: 200 000 samples of each; a few percent off."""
    rng = np.random.default_rng(1)
    for _ in range(8):
        arms = rng.normal(size=(3, 5)) * rng.uniform(0.1, 1.0, (3, 1))
        drawn = np.linalg.norm(rng.normal(size=(200_000, 5)) @ arms.T, axis=1)
        assert radius(arms, np.ones(5)) == pytest.approx(np.quantile(drawn, INSIDE), rel=0.05)


def test_a_body_stands_on_the_highest_plane_under_its_feet() -> None:
    """Referee: linear programming. Of all planes that no standing foot lies under, the ground
    under a settled body is highest at the centre of mass."""
    rng = np.random.default_rng(2)
    turns = np.arange(6) * np.pi / 3.0
    feet = np.stack([np.cos(turns), np.sin(turns), 0.0 * turns], axis=1)
    feet = feet + 0.1 * rng.normal(size=(5, 6, 3)) * [1.0, 1.0, 0.0]
    contact = np.ones((5, 6), dtype=np.bool_)
    contact[1, 0] = contact[2, ::2] = contact[3, [1, 4]] = False
    com = 0.1 * rng.normal(size=(5, 2))
    com[4] = (5.0, 0.0)
    heights = 0.01 * rng.normal(size=(5, 20, 6))
    slope, rise = settled(feet, contact, com, heights)
    assert np.isnan(slope[4]).all() and np.isnan(rise[4]).all()
    for pose in range(4):
        down = contact[pose]
        plan = np.column_stack([feet[pose, down, :2], np.ones(down.sum())])
        for robot in range(20):
            best = linprog(-np.array([*com[pose], 1.0]), plan, heights[pose, robot, down],
                           bounds=[(None, None)] * 3)  # fmt: skip
            assert rise[pose, robot] == pytest.approx(best.fun, abs=1e-9)
            assert slope[pose, robot] == pytest.approx(np.hypot(*best.x[:2]), abs=1e-9)
