"""Which of two limits that are used alike is named."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.study.check import glimpse
from legwright.study.strains import joint_label, strain_of, used_by

ROOK = Path(__file__).parents[2] / "robots" / "rook"


@pytest.mark.parametrize(("limit", "words"), [(4, "torque at speed"), (5, "heat")])
def test_of_mirrored_joints_the_first_is_named_whatever_rounding_says(
    limit: int, words: str
) -> None:
    robot = lw.load(ROOK)
    used = used_by(robot, glimpse(robot))
    headroom, steady = np.full(18, 2.0), np.full(18, 310.0)
    headroom[[4, 13]], steady[[4, 13]] = 1.1, 330.0
    for first, second in ((4, 13), (13, 4)):
        less, more = np.array(headroom), np.array(steady)
        less[first] *= 1.0 - 1e-13
        more[first] *= 1.0 + 1e-13
        found = used._replace(headroom=less, weakest=first, steady=more, hottest=first)
        named = strain_of(robot, found, limit, 1.2, 0.7)
        assert named.limit == f"{words}, {joint_label(robot, 4)}"
        less[second] *= 1.01
        more[second] *= 0.99
        named = strain_of(robot, found, limit, 1.2, 0.7)
        assert named.limit == f"{words}, {joint_label(robot, first)}"
