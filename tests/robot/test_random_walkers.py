"""Legs of walkers drawn at random: found, and where Pinocchio says they are."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from descriptions import Numbers, written
from random_walkers import drawn
from referee import Referee, foot_of, solids_of

from legwright.robot.loading import load
from legwright.robot.solids import merged


@pytest.mark.parametrize("seed", range(40))
def test_legs_of_a_random_walker(seed: int, tmp_path: Path) -> None:
    """Truth: the generator's own; referee for places and inertia: Pinocchio."""
    robot = drawn(seed)
    path = written(tmp_path, robot.parts)
    found = load(path, solver=Numbers)  # type: ignore[arg-type]
    assert {leg.chain.foot_link: leg.joint_names for leg in found.legs.values()} == robot.legs
    assert found.body == "base"
    rng = np.random.default_rng(seed)
    q = {
        name: rng.uniform(np.maximum(leg.lower, -3), np.minimum(leg.upper, 3))
        for name, leg in found.legs.items()
    }
    referee = Referee(path, "base")
    referee.place(
        dict(found.held)
        | {
            joint: float(value)
            for name, leg in found.legs.items()
            for joint, value in zip(leg.joint_names, q[name], strict=True)
        }
    )
    for name, leg in found.legs.items():
        np.testing.assert_allclose(
            foot_of(leg.chain, q[name]), referee.at(leg.chain.foot_link), atol=1e-11
        )
    ours, theirs = merged(solids_of(found, q)), referee.total()
    assert ours.mass == pytest.approx(theirs.mass, rel=1e-12)
    np.testing.assert_allclose(ours.com, theirs.com, atol=1e-11)
    np.testing.assert_allclose(ours.inertia, theirs.inertia, atol=1e-11)
