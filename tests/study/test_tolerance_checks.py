"""Tolerances as findings: judged where the sheet says enough, unknown with the key elsewhere."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest
from asking import named

import legwright as lw
from legwright.locomotion.stance import footing
from legwright.study.checks.tolerance import check_tolerance
from legwright.study.finding import Verdict

TOP = Path(__file__).parents[2]
FOOT, TILT = "foot position, as built", "body tilt, as built"


def findings_of(robot):
    return list(check_tolerance(SimpleNamespace(robot=robot, footing=footing(robot))))


@pytest.mark.parametrize("name", ["wren", "rook", "heron"])
def test_the_family_is_exact_enough(name):
    found = findings_of(lw.load(TOP / "robots" / name))
    assert [one.verdict for one in found] == [Verdict.PASS, Verdict.PASS]
    assert all(one.margin > 0.0 for one in found)


def test_a_coarse_class_costs_exactness(variant):
    medium = findings_of(lw.load(TOP / "robots" / "rook"))
    coarse = findings_of(variant({'general = "m"': 'general = "c"'}))
    for name in (FOOT, TILT):
        assert named(coarse, name).value > 1.3 * named(medium, name).value
    assert "axis direction" in named(coarse, FOOT).cure


def test_what_the_sheet_leaves_out_is_unknown_and_named(variant):
    (foot, tilt) = findings_of(variant({'general = "m"': '# general = "m"'}))
    assert foot.verdict is tilt.verdict is Verdict.UNKNOWN
    assert "making.tolerance.general" in foot.cure
    (foot, _) = findings_of(variant({'foot_error = "4 mm"': ""}))
    assert foot.verdict is Verdict.UNKNOWN and foot.value is not None
    assert "making.tolerance.foot_error" in foot.cure


def test_a_bare_description_is_unknown():
    found = findings_of(lw.load(TOP / "robots" / "heron" / "heron.urdf"))
    assert {one.verdict for one in found} == {Verdict.UNKNOWN}
    assert all("making.tolerance.general" in one.cure for one in found)
