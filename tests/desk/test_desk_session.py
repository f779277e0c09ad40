"""A robot edited in memory: fields, refusals, undo, variants; the disk changes only when asked."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

import legwright as lw
from legwright.errors import LegwrightError, RequestError, RobotError
from legwright.robot.editing import opened
from legwright.views.desk.fields import fields_of
from legwright.views.desk.greeting import fixed_of
from legwright.views.desk.session import Session

ROBOTS = Path(__file__).parents[2] / "robots"


@pytest.fixture
def family(tmp_path: Path) -> Path:
    shutil.copytree(ROBOTS, tmp_path / "robots")
    return tmp_path / "robots"


@pytest.fixture
def rook(family: Path) -> Session:
    return Session(family / "rook")


def digest(folder: Path) -> str:
    whole = hashlib.sha256()
    for file in sorted(folder.rglob("*")):
        if file.is_file():
            whole.update(file.relative_to(folder).as_posix().encode() + file.read_bytes())
    return whole.hexdigest()


def field(session: Session, key: str):
    return next(each for each in session.fields if each.key == key)


def test_fields_say_value_unit_bounds_and_where_they_come_from(rook: Session) -> None:
    femur = field(rook, "dimensions.femur")
    assert (femur.value, femur.number, femur.unit, femur.origin) == ("85 mm", 85.0, "mm", "set")
    assert (femur.low, femur.high, femur.step) == (0.0, 5000.0, 1.0)
    assert femur.about.startswith("Femur axis to tibia axis")
    assert field(rook, "fit.*_femur").choices == ("dunnock", "firecrest")
    assert "20 AWG" in field(rook, "harness.conductor.leg.gauge").choices
    assert field(rook, "hub.branch.left-front.conductor").choices == ("main", "leg", "light")
    assert field(rook, "dimensions.hips[1][3]").label == "hip 1 yaw"
    assert field(rook, "requirements.ambient").unit == "degC"
    assert field(rook, "requirements.ambient").high == pytest.approx(726.85)
    assert field(rook, "dimensions.femur_rise").origin == "assumed"
    assert field(rook, "stance.cycle").unit == "s"


@pytest.mark.parametrize("name", ["rook", "heron", "wren", "rook-can"])
def test_every_field_takes_its_own_value_again(name: str) -> None:
    """Referee: the sheet's own reader; a field that it refuses is no field."""
    from legwright.mechanics.opening import edited

    text = opened(ROBOTS / name)
    robot = lw.load(ROBOTS / name)
    fields = fields_of(robot, text, text)
    same = {each.key: each.value for each in fields if each.origin == "set"}
    assert len(same) > 50
    assert edited(text, same).sheet == robot.sheet
    for each in fields:
        assert each.number is None or each.low is None or each.low <= each.number
        assert each.number is None or each.high is None or each.number <= each.high
        assert not each.choices or each.value in each.choices


def test_fields_taken_over_are_those_made_anew(rook: Session) -> None:
    """Referee: all fields of the same state, nothing known before."""
    steps = {
        "dimensions.femur": "90 mm",
        "servo.dunnock.mass": "61 g",
        "fit.'*_femur'": "firecrest",
        "harness.conductor.leg.gauge": "18 AWG",
        "stance.body_height": "95 mm",
        "dimensions.hips[1][2]": "66 mm",
    }
    for key, value in (*steps.items(), ("dimensions.femur", "")):
        rook.edit(key, value, now=0.0)
        assert rook.fields == fields_of(rook.robot, rook._stand.text, rook.disk)
    rook.undo()
    assert rook.fields == fields_of(rook.robot, rook._stand.text, rook.disk)


def test_what_a_stance_leaves_open_is_shown_as_found() -> None:
    path = ROBOTS.parent / "tests" / "data" / "wild" / "r101.urdf"
    session = Session(path)
    height = field(session, "stance.body_height")
    assert height.origin == "derived"
    assert height.number is not None
    assert height.number > 50.0
    with pytest.raises(RobotError, match="shape of this robot is"):
        session.edit("dimensions.femur", "90 mm", now=0.0)
    session.edit("stance.body_height", height.value, now=0.0)
    assert field(session, "stance.body_height").origin == "set"


def test_what_cannot_be_edited_is_said_with_the_way_on(rook: Session, family: Path) -> None:
    assert fixed_of(rook.disk) == ""
    heron = fixed_of(Session(family / "heron").disk)
    assert "heron.urdf" in heron
    assert "[dimensions]" in heron
    bare = fixed_of(opened(ROBOTS.parent / "tests" / "data" / "wild" / "r101.urdf"))
    assert "`legwright adopt r101.urdf`" in bare


def test_edits_undo_redo_and_put_back(rook: Session, family: Path) -> None:
    before, mass = digest(family), rook.robot.mass
    rook.edit("dimensions.femur", "90 mm", now=0.0)
    assert rook.robot.mass > mass
    assert rook.robot.sheet.dimensions.femur == pytest.approx(0.09)
    rook.edit("fit.'*_femur'", "firecrest", now=5.0)
    assert rook.edits == {"dimensions.femur": "90 mm", "fit.*_femur": "firecrest"}
    assert [(c.key, c.before, c.after) for c in rook.changes] == [
        ("dimensions.femur", "85 mm", "90 mm"), ("fit.*_femur", "dunnock", "firecrest"),
    ]  # fmt: skip
    assert rook.undo_words == "servo of femur dunnock → firecrest"
    rook.undo()
    assert rook.redo_words == "servo of femur dunnock → firecrest"
    assert rook.undo_words == "femur 85 mm → 90 mm"
    rook.undo()
    assert rook.robot is rook.kept
    with pytest.raises(RequestError, match="nothing has been changed"):
        rook.undo()
    rook.redo()
    rook.redo()
    with pytest.raises(RequestError):
        rook.redo()
    rook.put_back(now=9.0)
    assert rook.edits == {}
    rook.undo()
    assert len(rook.edits) == 2
    rook.edit("dimensions.femur", "", now=20.0)
    assert rook.edits == {"fit.*_femur": "firecrest"}
    assert rook.rev == 10
    assert digest(family) == before


def test_a_drag_is_one_step(rook: Session) -> None:
    for at in range(8):
        rook.edit("dimensions.femur", f"{86 + at} mm", now=0.1 * at)
    assert rook.undo_words == "femur 85 mm → 93 mm"
    rook.undo()
    assert rook.edits == {}


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("dimensions.femur", "0 mm", "positive"), ("dimensions.femur", "90", "unit"),
        ("dimensions.femur", "90 kg", "mass"), ("dimensions.femur", "90 m", "unit right"),
        ("dimensions.femr", "90 mm", "Did you mean"), ("urdf", "/etc/passwd", "edited"),
        ("extends", "../wren", "edited"), ("fit.*_femur", "eagle", "eagle"),
        ("shells", "x", "edited"), ("", "x", "key"), ("dimensions", "x", "edited"),
        ("requirements.gaits", '["wave"]', "edited"), ("harness.conductor.leg.gauge", "x", "gauge"),
        ("battery.cell_cutoff", "4.1 V", "rise"), ("dimensions.hips[9][1]", "1 mm", "edited"),
        ("dimensions.hips[1][2]", "-75 mm", "left side"), ("servo.dunnock.stall_torque", "", ""),
        ("lights.device", "/dev/null", "edited"), ("dimensions.femur", "9" * 5000, "long"),
    ],
)  # fmt: skip
def test_a_fault_names_key_and_cure_and_changes_nothing(
    rook: Session, key: str, value: str, word: str
) -> None:
    robot, rev = rook.robot, rook.rev
    if word:
        with pytest.raises(LegwrightError) as error:
            rook.edit(key, value, now=0.0)
        assert word in str(error.value)
        assert len(str(error.value)) < 700
    else:
        rook.edit(key, value, now=0.0)
    assert rook.robot is robot
    assert rook.rev == rev
    assert rook.edits == {}


def test_keeping_writes_one_new_folder_and_nothing_else(rook: Session, family: Path) -> None:
    with pytest.raises(RequestError, match="as on disk"):
        rook.keep("robin")
    rook.edit("dimensions.femur", "90 mm", now=0.0)
    before = digest(family)
    for name in ("../robin", "a/b", "", ".", "rook", "wren", "x" * 65, "a b", "/tmp/robin"):
        with pytest.raises(RequestError):
            rook.keep(name)
    assert digest(family) == before
    sheet = rook.keep("robin")
    assert sheet == family / "robin" / "robot.toml"
    assert rook.written == "robin"
    assert lw.load(family / "robin").sheet.dimensions.femur == pytest.approx(0.09)
    assert "robin" in rook.variants()
    shutil.rmtree(family / "robin")
    assert digest(family) == before


def test_files_that_change_are_read_again_and_edits_stay_on_top(rook: Session) -> None:
    """Referee: the robot as it is loaded from the changed files."""
    sheet = rook.disk.file
    rook.edit("dimensions.tibia", "131 mm", now=0.0)
    assert rook.look() == rook.stamp
    sheet.write_text(sheet.read_text().replace('femur = "85 mm"', 'femur = "88 mm"'))
    assert rook.look() != rook.stamp
    rook.reread(now=1.0)
    assert rook.look() == rook.stamp and "read again" in rook.read and not rook.unread
    assert dict(rook.edits) == {"dimensions.tibia": "131 mm"}
    assert rook.kept.mass == lw.load(sheet).mass
    assert (field(rook, "dimensions.femur").value, rook.changes[0].after) == ("88 mm", "131 mm")
    sheet.write_text(sheet.read_text().replace('tibia = "130 mm"', 'tibia = "131 mm"'))
    rook.reread(now=2.0)
    assert dict(rook.edits) == {}  # the disk says the same now


def test_files_that_make_no_robot_leave_it_as_it_was(rook: Session) -> None:
    sheet, before = rook.disk.file, rook.robot
    text = sheet.read_text()
    for broken in (text.replace('femur = "85 mm"', 'femur = "85 mn"'), text[:400], ""):
        sheet.write_text(broken)
        rook.reread(now=0.0)
        assert rook.unread and "robot.toml" in rook.read and "\n" not in rook.read
        assert rook.robot is before and rook.look() == rook.stamp
    sheet.unlink()
    rook.reread(now=0.0)
    assert rook.unread and rook.robot is before
    sheet.write_text(text)
    rook.reread(now=0.0)
    assert not rook.unread and rook.robot.mass == before.mass


def test_all_files_of_a_robot_are_looked_at(family: Path) -> None:
    can = Session(family / "rook-can")
    for name in ("rook-can", "rook"):  # the one extends the other
        (family / name / "robot.toml").touch()
        assert can.look() != can.stamp
        can.reread(now=0.0)
        assert can.look() == can.stamp and not can.unread
