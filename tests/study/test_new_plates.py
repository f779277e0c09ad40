"""Plates of new robots: drawn, makeable, and as heavy as the description takes them to be."""

from __future__ import annotations

from pathlib import Path

import pytest

import legwright as lw
from legwright.fabrication.parts import parts_of
from legwright.robot.scaffold import new_robot
from legwright.study.checks.plates import judged
from legwright.study.finding import Verdict


@pytest.mark.parametrize("legs", [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 16, 17, 19, 20])
def test_plates_of_a_new_robot_can_be_made(tmp_path: Path, legs: int) -> None:
    """Every finding on its plates passes; brackets are not asked for yet."""
    robot = lw.load(new_robot(tmp_path / "walker", legs=legs))
    assert len(parts_of(robot).plates.plates) == 2
    found = [finding for finding in judged(robot) if finding.area == "plates"]
    assert len(found) >= 6
    assert {finding.verdict for finding in found} == {Verdict.PASS}
