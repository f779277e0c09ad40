"""Bends and brackets: published cases, the way back by another road, a CAD kernel."""

from __future__ import annotations

import json
from dataclasses import replace
from math import pi, radians, sqrt
from pathlib import Path

import numpy as np
import pytest
import trimesh

import legwright as lw
from legwright.errors import RequestError
from legwright.fabrication.bend import allowance, deduction, setback
from legwright.fabrication.fold_rules import fold_limits
from legwright.fabrication.hip_bracket import hip_bracket_of
from legwright.fabrication.meshing import bracket_mesh
from legwright.fabrication.refold import refolded
from legwright.fabrication.step import bracket_solid, volume

TOP = Path(__file__).parents[2]
VALUES = json.loads((TOP / "tests" / "data" / "reference_values.json").read_text())
BENDS = [c for c in VALUES["topics"]["9_fabrication"] if c["id"].startswith("bend_")]
FAMILY = ("wren", "rook", "heron")


@pytest.mark.parametrize("case", BENDS, ids=lambda case: case["id"])
def test_bends_are_the_published_cases(case):
    given, wanted = case["inputs"], case["expected"]
    angle, r, t = radians(given["angle_deg"]), given["R_mm"] * 1e-3, given["T_mm"] * 1e-3
    assert allowance(angle, r, t, given["K"]) * 1e3 == pytest.approx(wanted["BA_mm"], rel=1e-8)
    assert setback(angle, r, t) * 1e3 == pytest.approx(wanted["OSSB_mm"], rel=1e-8)
    assert deduction(angle, r, t, given["K"]) * 1e3 == pytest.approx(wanted["BD_mm"], rel=1e-8)
    flat = 80.0 - deduction(angle, r, t, given["K"]) * 1e3
    assert flat == pytest.approx(wanted["flat_30_50_mm"], rel=1e-8)


def test_impossible_bends_are_refused():
    with pytest.raises(RequestError, match="between 0 and π"):
        allowance(pi, 1e-3, 1e-3, 0.4)
    with pytest.raises(RequestError, match="0 <= K"):
        allowance(1.0, 1e-3, 1e-3, 0.7)


@pytest.fixture(scope="module", params=FAMILY)
def bracket(request):
    found = hip_bracket_of(lw.load(TOP / "robots" / request.param)).bracket
    assert found is not None
    return found


def test_the_flat_pattern_folds_up_to_the_bracket(bracket):
    """Referee: outside measures of the folded part; the pattern came from bend deductions, the
    way back walks the neutral fibre."""
    b = bracket
    up, down = refolded(b, [[b.hip, 0.0], [-b.hip, 0.0]])
    assert up == pytest.approx([0.0, 0.0, b.height / 2], abs=1e-12)
    assert down == pytest.approx([0.0, 0.0, -b.height / 2], abs=1e-12)
    (tip,) = refolded(b, [[b.developed / 2, b.width / 2]])
    assert tip == pytest.approx([-b.end, b.width / 2, b.height / 2], abs=1e-12)
    (web,) = refolded(b, [[0.0, 0.003]])
    assert web == pytest.approx([b.reach, 0.003, 0.0], abs=1e-12)
    inside = refolded(b, [[b.hip, 0.0]], b.thickness)
    assert inside[0, 2] == pytest.approx(b.height / 2 - b.thickness, abs=1e-12)


def test_the_neutral_fibre_keeps_its_length(bracket):
    """Referee: arc length of the folded line, summed over 20 000 pieces."""
    b = bracket
    x = np.linspace(-b.developed / 2, b.developed / 2, 20_001)
    depth = b.thickness * (1.0 - b.k_factor)
    line = refolded(b, np.column_stack([x, np.zeros_like(x)]), depth)
    length = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert length == pytest.approx(b.developed, rel=1e-7)


def test_the_folded_mesh_is_closed_and_has_the_outside_measures(bracket):
    """Referee: trimesh."""
    b, mesh = bracket, bracket_mesh(bracket)
    solid = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    assert solid.is_watertight and solid.is_winding_consistent
    low, high = solid.bounds
    assert high == pytest.approx([b.reach, b.web_width / 2, b.height / 2], abs=1e-9)
    assert low == pytest.approx([-b.end, -b.web_width / 2, -b.height / 2], abs=1e-9)
    assert solid.volume == pytest.approx(b.volume, rel=1e-3)
    assert solid.center_mass == pytest.approx(b.com, abs=2e-5)


def test_the_folded_solid_has_the_volume_of_an_independent_kernel(bracket):
    """Referee: the CAD kernel, with true arcs."""
    pytest.importorskip("OCP")
    assert volume(bracket_solid(bracket)) == pytest.approx(bracket.volume, rel=1e-9)


def rules(bracket, **changes):
    keys = {"least_radius": 1.0, "punch": 0.006, "die": None} | changes
    return {rule.name: rule for rule in fold_limits(bracket, **keys)}


def test_the_family_can_be_folded(bracket):
    for rule in rules(bracket).values():
        assert rule.value >= rule.least - 1e-12, rule


def test_the_passage_is_where_the_folded_flange_is(bracket):
    """Referee: rotate the folded outline about the second bend's inside edge by 45°."""
    b = bracket
    inner_tip = np.array([-b.end, b.height / 2 - b.thickness])
    edge = np.array([b.reach - b.thickness, -b.height / 2 + b.thickness])
    arm = inner_tip - edge
    # The punch's middle plane halves the angle between web (up) and second flange (−x).
    plane = np.array([-1.0, 1.0]) / sqrt(2.0)
    beside = abs(plane[0] * arm[1] - plane[1] * arm[0])
    assert rules(b)["passage beside the punch"].value == pytest.approx(beside, rel=1e-12)


def test_what_cannot_be_folded_says_so(bracket):
    b = bracket
    tall = replace(b, reach=b.height)
    rule = rules(tall)["passage beside the punch"]
    assert rule.value < rule.least and "flange" in rule.cure
    assert rules(b, least_radius=3.0)["bend radius"].value < 3.0 * b.thickness
    near = replace(b, reach=b.radius + b.thickness + 4e-3, upper=tuple(
        replace(o, centre=(o.centre[0] - (b.reach - b.radius - b.thickness - 4e-3), o.centre[1]))
        for o in b.upper))  # fmt: skip
    rule = rules(near)["hole to bend"]
    assert rule.value < rule.least
    bare = replace(b, relief=0.0)
    assert rules(bare)["relief"].value == 0.0
    with pytest.raises(RequestError, match="twice bend radius"):
        replace(b, height=2 * (b.radius + b.thickness))
    with pytest.raises(RequestError, match="bend radius and thickness"):
        replace(b, reach=0.0, end=b.radius)
