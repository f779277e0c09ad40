"""Plates and brackets as findings."""

from __future__ import annotations

from pathlib import Path

import pytest
from asking import named

import legwright as lw
from legwright.fabrication.parts import parts_of
from legwright.study.checks.plates import judged
from legwright.study.finding import Verdict
from legwright.study.making import making_as_json, making_of, plate_keys

TOP = Path(__file__).parents[2]


@pytest.mark.parametrize("name", ["wren", "rook", "heron"])
def test_the_family_can_be_made(name):
    found = list(judged(lw.load(TOP / "robots" / name)))
    assert {one.verdict for one in found} == {Verdict.PASS}, [
        (one.name, one.value, one.limit) for one in found if one.verdict is not Verdict.PASS
    ]
    assert {one.area for one in found} == {"plates", "brackets"}


def test_overlapping_holes_are_told(variant):
    moved = variant({'["112 mm", "0 mm"]': '["95 mm", "0 mm"]'})
    one = named(judged(moved), "openings that overlap or leave the outline")
    assert one.verdict is Verdict.FAIL
    assert "spacer 5 and window 4 of upper-plate" in one.why


def test_a_hole_beside_the_plate_is_told(variant):
    moved = variant({'["112 mm", "0 mm"]': '["190 mm", "0 mm"]'})
    one = named(judged(moved), "openings that overlap or leave the outline")
    assert one.verdict is Verdict.FAIL and "spacer 5 of upper-plate" in one.why


def test_hips_that_lie_off_the_plates_are_told(variant):
    off = variant({'length = "240 mm"': 'length = "60 mm"', 'width = "170 mm"': 'width = "40 mm"'})
    one = named(judged(off), "body plates")
    assert one.verdict is Verdict.FAIL and "do not reach the core" in one.why


def test_a_bracket_that_cannot_be_folded_says_so(variant):
    flat = variant({'height = "36 mm"': 'height = "5 mm"'})
    one = named(judged(flat), "hip bracket")
    assert one.verdict is Verdict.FAIL and "cannot be folded" in one.why
    deep = variant({'flange = "16 mm"': 'flange = "40 mm"'})
    one = named(judged(deep), "passage beside the punch, hip-bracket")
    assert one.verdict is Verdict.FAIL
    tight = variant({'radius = "1.5 mm"': 'radius = "0.5 mm"'})
    assert named(judged(tight), "bend radius, hip-bracket").verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ('bearing = "10 mm"', None),
        ('size = ["46 mm", "24 mm", "36 mm"]', "servo.dunnock.size"),
        ('horn_bore = "8 mm"', "servo.dunnock.mount.horn_bore"),
    ],
)
def test_what_is_missing_is_unknown_and_named(variant, line, key):
    found = [one for one in judged(variant({line: ""})) if one.verdict is Verdict.UNKNOWN]
    if key is None:
        assert not found
    else:
        assert found and all(key in one.cure for one in found)


def test_a_bare_description_is_unknown():
    (one,) = judged(lw.load(TOP / "robots" / "heron" / "heron.urdf"))
    assert one.verdict is Verdict.UNKNOWN and "making.plates" in one.cure


def test_a_description_that_weighs_otherwise_is_told(variant):
    light = variant({"filled = 0.6 ": "filled = 0.1 "})
    one = named(judged(light), "plate mass against the description")
    assert one.verdict is Verdict.FAIL and "legwright parts" in one.cure


def test_plates_as_made_go_back_into_the_robot(variant):
    """The lines that `legwright parts` prints make the description weigh what is drawn."""
    before = lw.load(TOP / "robots" / "rook")
    plates = parts_of(before).plates.plates
    after = variant({"[dimensions.segments]": plate_keys(plates) + "\n[dimensions.segments]"})
    gain = after.mass - before.mass
    drawn = sum(plate.mass for plate in plates)
    shape = before.sheet.dimensions.plates
    box = shape.length * shape.width * shape.thickness * shape.density * shape.filled
    assert gain == pytest.approx(drawn - 2 * box, abs=2e-5)
    one = named(judged(after), "plate mass against the description")
    assert one.value == pytest.approx(0.0, abs=1e-3)
    assert named(judged(after), "centre of mass against the description").value < 1e-2


def test_plates_as_made_carry_their_inertia(variant):
    """Referee: parallel-axis sum of the exact plates against the generated trunk's change."""
    before = lw.load(TOP / "robots" / "rook")
    plates = parts_of(before).plates.plates
    from legwright.robot.generate import plate_solid

    after = variant({"[dimensions.segments]": plate_keys(plates) + "\n[dimensions.segments]"})
    shape = after.sheet.dimensions.plates
    for plate, made in zip(plates, (shape.upper, shape.lower), strict=True):
        ours = plate_solid(shape, made, plate.height)
        assert ours.inertia == pytest.approx(plate.solid.inertia, rel=1e-3, abs=1e-9)


def test_a_urdf_whose_trunk_is_too_light_is_told(tmp_path):
    folder = TOP / "robots" / "heron"
    text = (folder / "robot.toml").read_text().replace("../rook", str(TOP / "robots" / "rook"))
    urdf = (folder / "heron.urdf").read_text().replace('<mass value="4.35295"/>',
                                                       '<mass value="3.3"/>')  # fmt: skip
    (tmp_path / "robot.toml").write_text(text)
    (tmp_path / "heron.urdf").write_text(urdf)
    one = named(judged(lw.load(tmp_path)), "plates within the trunk's mass")
    assert one.verdict is Verdict.FAIL


def test_making_is_plain_data():
    import json

    data = making_as_json(making_of(lw.load(TOP / "robots" / "wren")))
    text = json.dumps(data, allow_nan=False)
    assert json.loads(text)["verdict"] == "pass"
    assert {part["name"] for part in data["parts"]} == {
        "upper-plate", "lower-plate", "hip-bracket",
    }  # fmt: skip
    assert data["fits"] and data["tolerances"]["stand"]
