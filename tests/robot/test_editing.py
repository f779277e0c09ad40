"""A sheet edited in memory reads as if the values stood in the file, and nothing is written."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError, RobotError
from legwright.mechanics.opening import edited, write_variant
from legwright.robot.editing import opened

ROBOTS = Path(__file__).parents[2] / "robots"
ROOK, HERON = ROBOTS / "rook", ROBOTS / "heron"


def rewritten(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    """Rook's sheet with pieces of its text replaced: the referee."""
    text = (ROOK / "robot.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    sheet = tmp_path / "referee" / "robot.toml"
    sheet.parent.mkdir()
    sheet.write_text(text, encoding="utf-8")
    return sheet


@pytest.mark.parametrize(
    ("key", "typed", "old", "new"),
    [
        ("dimensions.femur", "90 mm", '\nfemur = "85 mm"', '\nfemur = "90 mm"'),
        ("dimensions.hips[2][2]", "110 mm", '["0 mm", "105 mm"', '["0 mm", "110 mm"'),
        ("requirements.friction", "0.7", "friction = 0.6", "friction = 0.7"),
        ("requirements.friction", 0.7, "friction = 0.6", "friction = 0.7"),
        ("fit.'*_femur'", "firecrest", '"*_femur" = "dunnock"', '"*_femur" = "firecrest"'),
        ("fit.*_femur", "firecrest", '"*_femur" = "dunnock"', '"*_femur" = "firecrest"'),
        ("harness.conductor.leg.gauge", "18 AWG", 'gauge = "20 AWG"', 'gauge = "18 AWG"'),
        ("stance.cycle", "1.2 s", "[stance]", '[stance]\ncycle = "1.2 s"'),
        ("sensors.inertial", "false", "inertial = true", "inertial = false"),
        ("name", "7", 'name = "rook"', 'name = "7"'),
    ],
)  # fmt: skip
def test_an_edit_reads_as_if_it_stood_in_the_file(tmp_path, key, typed, old, new):
    """Referee: the same change made in the text of the sheet."""
    there, here = lw.load(rewritten(tmp_path, (old, new))), edited(ROOK, {key: typed})
    assert here.sheet == there.sheet
    assert here.mass == there.mass
    assert here.servos == there.servos
    q = np.full(3, 0.2)
    for name, leg in there.legs.items():
        np.testing.assert_array_equal(here.legs[name].foot(q), leg.foot(q))


@pytest.mark.parametrize(
    ("key", "typed", "old", "new"),
    [
        ("dimensions.femur", "90", '\nfemur = "85 mm"', '\nfemur = "90"'),
        ("dimensions.femur", 90.0, '\nfemur = "85 mm"', "\nfemur = 90.0"),
        ("dimensions.femur", "90 kg", '\nfemur = "85 mm"', '\nfemur = "90 kg"'),
        ("dimensions.femur", "9000 mm", '\nfemur = "85 mm"', '\nfemur = "9000 mm"'),
        ("dimensions.femurr", "90 mm", '\nfemur = "85 mm"',
         '\nfemur = "85 mm"\nfemurr = "90 mm"'),
        ("fit.*_femur", "robin", '"*_femur" = "dunnock"', '"*_femur" = "robin"'),
        ("hub.branch.mast.port", 1, "port = 7", "port = 1"),
        ("battery.series", "3.5", "series = 3", "series = 3.5"),
    ],
)  # fmt: skip
def test_a_faulty_edit_gets_the_error_of_the_file(tmp_path, key, typed, old, new):
    """Referee: the error for the same change made in the text of the sheet."""
    with pytest.raises(RobotError) as there:
        lw.load(rewritten(tmp_path, (old, new)))
    with pytest.raises(RobotError) as here:
        edited(ROOK, {key: typed})
    assert (here.value.place, here.value.problem, here.value.cure) == (
        there.value.place, there.value.problem, there.value.cure,
    )  # fmt: skip
    assert here.value.file == ROOK / "robot.toml"


def test_lists_are_replaced_whole_and_tables_are_laid_over():
    robot = edited(ROOK, {"requirements.gaits": '["wave", "tripod"]', "load": {"lamp": {
        "power": "1 W", "supply": "5 V", "regulator_efficiency": 0.9}}})  # fmt: skip
    assert robot.sheet.requirements.gaits == ("wave", "tripod")
    assert set(robot.sheet.load) == {"computer", "camera", "lamp"}


def test_a_key_that_leads_nowhere_is_named():
    for key, place in (
        ("dimensions.hips[9]", "dimensions.hips[9]"),
        ("dimensions.femur.length", "dimensions.femur"),
        ("dimensions.coxa[1]", "dimensions.coxa"),
        ("extends", "extends"),
    ):
        with pytest.raises(RobotError) as caught:
            edited(ROOK, {key: "1 mm"})
        assert caught.value.place == place
    for key in ("", ".", "dimensions..femur", "dimensions.", "a[0]", "a b", 'x"', "[1]"):
        with pytest.raises(RequestError, match="key"):
            edited(ROOK, {key: "1 mm"})


def test_where_a_urdf_is_the_shape_only_the_sheet_can_be_edited(tmp_path):
    with pytest.raises(RobotError, match=r"heron\.urdf.*Change that file"):
        edited(HERON, {"dimensions.femur": "160 mm"})
    assert edited(HERON, {"requirements.payload": "2 kg"}).sheet.requirements.payload == 2.0
    bare = HERON / "heron.urdf"
    with pytest.raises(RobotError, match=r"heron\.urdf"):
        edited(bare, {"dimensions.femur": "160 mm"})
    assert edited(bare, {"stance.body_height": "0.18 m"}).sheet.stance.body_height == 0.18


def test_edits_pile_up_and_leave_the_base_alone():
    before = (ROOK / "robot.toml").read_bytes()
    text = opened(ROOK)
    first = edited(text, {"dimensions.femur": "90 mm"})
    second = edited(first, {"dimensions.tibia": "140 mm"})
    assert dict(second.edits) == {"dimensions.femur": "90 mm", "dimensions.tibia": "140 mm"}
    assert second.sheet.dimensions.femur == pytest.approx(0.09)
    assert second.sheet == edited(text, second.edits).sheet
    assert edited(text, {}).sheet == lw.load(ROOK).sheet
    assert (ROOK / "robot.toml").read_bytes() == before
    assert not lw.load(ROOK).edits


@pytest.mark.parametrize("base", ["rook", "rook-can", "heron"])
def test_a_variant_states_only_what_differs(tmp_path, base):
    """Referee: reading the written folder gives the robot that was edited."""
    shutil.copytree(ROBOTS, tmp_path / "robots")
    home = tmp_path / "robots" / base
    before = (home / "robot.toml").read_bytes()
    values = {
        "requirements.payload": "0.7 kg",
        "requirements.friction": 0.6,
        "harness.conductor.leg.gauge": "16 AWG",
        "fit.*_femur": "dunnock" if base == "heron" else "firecrest",
    }
    if base != "heron":
        values |= {"dimensions.hips[2][2]": "110 mm", "dimensions.femur": "0.085 m"}
    robot = edited(home, values)
    sheet = write_variant(tmp_path / "kept" / "robin", robot, {"about": 'A "new" one'})
    kept = lw.load(sheet.parent)
    assert kept.sheet == robot.sheet.model_copy(
        update={"name": "robin", "about": 'A "new" one', "urdf": kept.sheet.urdf}
    )
    stated = tomllib.loads(sheet.read_text(encoding="utf-8"))
    assert stated["extends"] == f"../../robots/{base}/robot.toml"
    assert "friction" not in stated["requirements"]
    assert set(stated) - {"dimensions"} == {
        "extends", "name", "about", "requirements", "harness", "fit",
    }  # fmt: skip
    assert (home / "robot.toml").read_bytes() == before
    with pytest.raises(RobotError, match="nothing is overwritten"):
        write_variant(sheet.parent, home, values)


def test_a_variant_of_a_bare_urdf_names_it(tmp_path):
    urdf = tmp_path / "heron.urdf"
    urdf.write_bytes((HERON / "heron.urdf").read_bytes())
    sheet = write_variant(tmp_path / "tall", urdf, {"stance.body_height": "180 mm"})
    kept = lw.load(sheet)
    assert kept.sheet.urdf == "../heron.urdf"
    assert kept.sheet.stance.body_height == pytest.approx(0.18)


def test_a_faulty_variant_is_not_written(tmp_path):
    with pytest.raises(RobotError, match=r"dimensions\.femur"):
        write_variant(tmp_path / "robin", ROOK, {"dimensions.femur": "90"})
    assert not (tmp_path / "robin").exists()
