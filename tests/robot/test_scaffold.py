"""New and adopted robot folders: they load, say what they hold, and overwrite nothing."""

from pathlib import Path

import pytest

from legwright.errors import RequestError, RobotError
from legwright.mechanics.kinematics import kinematics_of
from legwright.robot.loading import load
from legwright.robot.scaffold import adopt, new_robot, new_sheet
from legwright.robot.urdf_writing import urdf_text

TESTS = Path(__file__).parents[1]
WILD = sorted((TESTS / "data" / "wild").glob("*.urdf"))


@pytest.mark.parametrize("legs", [3, 4, 5, 6, 7, 8, 9, 10, 20])
def test_new_robots_load(legs, tmp_path):
    folder = new_robot(tmp_path / "finch", legs=legs)
    robot = load(folder, solver=kinematics_of)
    assert robot.name == "finch"
    assert len(robot.legs) == legs
    assert all(servo is not None for servo in robot.servos.values())
    stance = robot.sheet.stance
    for leg in robot.legs.values():
        out = leg.foot([0.0, 0.0, 0.0]) - leg.hip
        out[2] = 0.0
        foot = leg.hip + out / (out @ out) ** 0.5 * stance.foot_distance
        foot[2] = robot.sheet.foot.radius - stance.body_height
        assert leg.reach(foot).ok


@pytest.mark.parametrize("name", ["", "a b", "../x", "9lives", "ä", "x" * 41, "a/b", 'a"', "a\n"])
def test_unusable_names(name):
    with pytest.raises(RequestError, match="name"):
        new_sheet(name)


@pytest.mark.parametrize("legs", [-1, 0, 2, 21, True, 6.0, "6"])
def test_unusable_leg_counts(legs):
    with pytest.raises(RequestError, match="legs"):
        new_sheet("finch", legs=legs)


def test_nothing_is_overwritten(tmp_path):
    new_robot(tmp_path / "finch")
    before = (tmp_path / "finch" / "robot.toml").read_bytes()
    with pytest.raises(RobotError, match="overwritten"):
        new_robot(tmp_path / "finch", legs=4)
    assert (tmp_path / "finch" / "robot.toml").read_bytes() == before


def test_a_file_in_the_way(tmp_path):
    (tmp_path / "finch").write_text("")
    with pytest.raises(RobotError, match=r"cannot be written|exists already"):
        new_robot(tmp_path / "finch")


@pytest.mark.parametrize("urdf", WILD, ids=lambda path: path.stem)
def test_adopting_keeps_the_robot(urdf, tmp_path):
    """Referee: the bare URDF, loaded without a sheet."""
    bare = load(urdf, solver=kinematics_of)
    sheet = adopt(urdf, tmp_path / "home")
    adopted = load(sheet, solver=kinematics_of)
    assert list(adopted.legs) == list(bare.legs)
    assert adopted.joint_names == bare.joint_names
    assert adopted.mass == pytest.approx(bare.mass)
    text = sheet.read_text(encoding="utf-8")
    assert all(name in text for name in bare.joint_names)
    with pytest.raises(RobotError, match="overwritten"):
        adopt(urdf, tmp_path / "home")


def test_adopting_beside_the_urdf(tmp_path):
    robot = load(new_robot(tmp_path / "finch"), solver=kinematics_of)
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "own.urdf").write_text(urdf_text(robot.tree))
    sheet = adopt(tmp_path / "own" / "own.urdf")
    assert sheet == tmp_path / "own" / "robot.toml"
    assert load(tmp_path / "own", solver=kinematics_of).joint_names == robot.joint_names


def test_adopting_odd_names(tmp_path):
    robot = load(new_robot(tmp_path / "finch"), solver=kinematics_of)
    text = urdf_text(robot.tree).replace('robot name="finch"', 'robot name="a&quot;b\\c [x]"')
    (tmp_path / "odd.urdf").write_text(text.replace("left_front_coxa", "left front.coxa"))
    assert load(adopt(tmp_path / "odd.urdf"), solver=kinematics_of).name == 'a"b\\c [x]'


def test_adopting_nothing(tmp_path):
    with pytest.raises(RobotError):
        adopt(tmp_path / "gone.urdf")
