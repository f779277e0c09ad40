"""Variants: a sheet laid over another, table by table."""

import pytest

from legwright.errors import RobotError
from legwright.robot.sheet_reading import read_sheet

BASE = """
name = "base"
revision = "C"
urdf = "base.urdf"
[requirements]
payload = "1 kg"
gaits = ["tripod", "wave"]
[servo.lark]
stall_torque = "2 N*m"
no_load_speed = "5 rad/s"
[fit]
"*_coxa" = "lark"
"""
SHAPE = (
    '[dimensions]\nlegs = 6\nring = "90 mm"\ncoxa = "50 mm"\nfemur = "85 mm"\n'
    'tibia = "130 mm"\nplates = { length = "200 mm", width = "150 mm", gap = "50 mm" }\n'
)


@pytest.fixture
def write(tmp_path):
    def written(name, text):
        file = tmp_path / name / "robot.toml"
        file.parent.mkdir(exist_ok=True)
        file.write_text(text)
        return file

    written("base", BASE)
    return written


def test_only_what_differs_is_stated(write):
    sheet = read_sheet(
        write("a", 'extends = "../base/robot.toml"\nname = "a"\n[requirements]\npayload = "2 kg"')
    )
    assert (sheet.name, sheet.revision) == ("a", "C")
    assert sheet.requirements.payload == 2.0
    assert sheet.requirements.gaits == ("tripod", "wave")
    assert sheet.servo["lark"].stall_torque == 2.0


def test_lists_are_replaced_whole(write):
    sheet = read_sheet(
        write("a", 'extends = "../base/robot.toml"\n[requirements]\ngaits = ["ripple"]')
    )
    assert sheet.requirements.gaits == ("ripple",)


def test_a_folder_may_be_named(write):
    assert read_sheet(write("a", 'extends = "../base"')).name == "base"


def test_paths_stay_those_of_the_base(write, tmp_path):
    sheet = read_sheet(write("a", 'extends = "../base/robot.toml"'))
    assert sheet.urdf == "../base/base.urdf"


def test_own_shape_replaces_the_base_one(write):
    sheet = read_sheet(write("a", 'extends = "../base/robot.toml"\n' + SHAPE))
    assert sheet.urdf is None
    assert sheet.dimensions is not None
    back = read_sheet(write("b", 'extends = "../a/robot.toml"\nurdf = "b.urdf"'))
    assert back.urdf == "b.urdf"
    assert back.dimensions is None


def test_three_deep(write):
    write("a", 'extends = "../base/robot.toml"\nname = "a"')
    sheet = read_sheet(write("b", 'extends = "../a/robot.toml"\nabout = "b"'))
    assert (sheet.name, sheet.about, sheet.requirements.payload) == ("a", "b", 1.0)


def test_a_circle_is_named(write):
    write("a", 'extends = "../b/robot.toml"')
    with pytest.raises(RobotError, match=r"a -> b -> a|b -> a -> b"):
        read_sheet(write("b", 'extends = "../a/robot.toml"'))


def test_a_fault_names_the_file_that_states_it(write, tmp_path):
    write("base", BASE.replace('"1 kg"', '"1 V"'))
    with pytest.raises(RobotError) as caught:
        read_sheet(write("a", 'extends = "../base/robot.toml"\n[requirements]\nslope = "1 deg"'))
    assert caught.value.file == tmp_path / "a" / ".." / "base" / "robot.toml"
    assert caught.value.place == "requirements.payload"


def test_servo_files_come_below_the_sheet(write, tmp_path):
    (tmp_path / "servos.toml").write_text(
        '[servo.wren]\nstall_torque = "1 N*m"\nno_load_speed = "5 rad/s"'
    )
    sheet = read_sheet(
        write("a", 'servo_files = ["../servos.toml"]\n[servo.wren]\nstall_torque = "3 N*m"')
    )
    assert sheet.servo["wren"].stall_torque == 3.0
    assert sheet.servo["wren"].no_load_speed == 5.0
    assert sheet.servo["wren"].id == "wren"


def test_a_servo_file_holds_servos_only(write, tmp_path):
    (tmp_path / "servos.toml").write_text('name = "x"')
    with pytest.raises(RobotError, match="servo file"):
        read_sheet(write("a", 'servo_files = ["../servos.toml"]'))
