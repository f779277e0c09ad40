"""Broken sheets: each gives one RobotError that names file and key, and says what to do."""

import pytest

from legwright.errors import RobotError
from legwright.robot.sheet_reading import read_sheet

SERVO = '[servo.lark]\nstall_torque = "2 N*m"\nno_load_speed = "5 rad/s"\n'
SHAPE = (
    '[dimensions]\nlegs = 6\ncoxa = "50 mm"\nfemur = "85 mm"\ntibia = "130 mm"\n'
    'plates = { length = "200 mm", width = "150 mm", gap = "50 mm" }\n'
)
BATTERY = '[battery]\nseries = 3\ncapacity = "5 A*h"\n'

BROKEN = {
    "wrong kind": ('[requirements]\npayload = "3 mm"', "requirements.payload", "a mass"),
    "no unit": ('[requirements]\npayload = "3"', "requirements.payload", "has no unit"),
    "bare number": ("[requirements]\npayload = 3", "requirements.payload", "text with a unit"),
    "unknown unit": ('[stance]\nlift = "3 mmm"', "stance.lift", "unknown unit"),
    "unknown key": ('[requirements]\npaylod = "3 kg"', "requirements.paylod", "'payload'"),
    "unknown table": ("[requirement]\nx = 1", "requirement", "'requirements'"),
    "unknown servo key": (SERVO + 'mas = "3 g"', "servo.lark.mas", "'mass'"),
    "missing key": ('[servo.lark]\nstall_torque = "2 N*m"', "servo.lark.no_load_speed", "missing"),
    "negative": ('[requirements]\npayload = "-1 kg"', "requirements.payload", "negative"),
    "zero torque": (SERVO.replace("2 N*m", "0 N*m"), "servo.lark.stall_torque", "positive"),
    "zero speed": (SERVO.replace("5 rad/s", "0 rad/s"), "servo.lark.no_load_speed", "greater"),
    "metres for millimetres": (
        '[stance]\nbody_height = "85 m"',
        "stance.body_height",
        "unit right",
    ),
    "NaN text": ('[stance]\nlift = "nan mm"', "stance.lift", "not finite"),
    "NaN number": ("[requirements]\nfriction = nan", "requirements.friction", "finite"),
    "infinite": ("[requirements]\nfriction = inf", "requirements.friction", "finite"),
    "below absolute zero": (
        '[requirements]\nambient = "-300 degC"',
        "requirements.ambient",
        "zero",
    ),
    "unknown gait": ('[requirements]\ngaits = ["gallop"]', "requirements.gaits[1]", "tripod"),
    "two numbers for a point": (
        '[requirements]\npayload_at = ["1 mm", "2 mm"]',
        "requirements.payload_at[3]",
        "missing",
    ),
    "text for a list": ('[requirements]\ngaits = "wave"', "requirements.gaits", "a list"),
    "value for a table": ("requirements = 3", "requirements", "a table"),
    "fit to nobody": (SERVO + '[fit]\n"*_coxa" = "larc"', "fit", "'lark'"),
    "two shapes": ('urdf = "a.urdf"\n' + SHAPE + 'ring = "90 mm"', "dimensions", "two shapes"),
    "hips and ring": (
        SHAPE + 'ring = "90 mm"\nhips = [["1 mm","2 mm","3 deg"]]',
        "dimensions",
        "either",
    ),
    "hips miscounted": (
        SHAPE + 'hips = [["1 mm","2 mm","3 deg"]]',
        "dimensions.hips",
        "1 left hips",
    ),
    "two legs": (SHAPE.replace("legs = 6", "legs = 2"), "dimensions.legs", "greater"),
    "limits swapped": (
        SHAPE + 'ring = "90 mm"\n[dimensions.travel]\ncoxa = { lower = "9 deg", upper = "-9 deg" }',
        "dimensions.travel.coxa",
        "Swap",
    ),
    "negative femur": (SHAPE.replace('"85 mm"', '"-85 mm"'), "dimensions.femur", "positive"),
    "count as text": (BATTERY.replace("= 3", '= "3"'), "battery.series", "whole number"),
    "count as truth": (BATTERY.replace("= 3", "= true"), "battery.series", "whole number"),
    "cells upside down": (BATTERY + 'cell_cutoff = "4.3 V"', "battery.cell_cutoff", "rise"),
    "chemistry": (BATTERY + 'chemistry = "nickel"', "battery.chemistry", "lithium-polymer"),
    "port beyond hub": (
        "[hub]\nports = 2\n[hub.branch.a]\nport = 3",
        "hub.branch.a.port",
        "2 ports",
    ),
    "port twice": (
        "[hub]\nports = 2\n[hub.branch.a]\nport = 1\n[hub.branch.b]\nport = 1",
        "hub.branch.b.port",
        "taken",
    ),
    "unknown conductor": (
        '[hub]\nports = 2\n[hub.branch.a]\nport = 1\nconductor = "x"',
        "hub.branch.a.conductor",
        "unknown conductor",
    ),
    "gauge and section": ("[harness.conductor.a]", "harness.conductor.a", "either"),
    "gauge nonsense": (
        '[harness.conductor.a]\ngauge = "99 AWG"',
        "harness.conductor.a.gauge",
        "99",
    ),
    "node twice": (
        '[bus]\nkind = "can"\nbit_rate = "1 Mbit/s"\nupdate_rate = "100 Hz"\n'
        "[bus.nodes]\na = 1\nb = 1",
        "bus.nodes.b",
        "taken",
    ),
    "servo voltages": (
        SERVO + 'lowest_voltage = "9 V"\nhighest_voltage = "8 V"',
        "servo.lark.lowest_voltage",
        "Swap",
    ),
    "continuous above stall": (
        SERVO + 'continuous_torque = "3 N*m"',
        "servo.lark.continuous_torque",
        "stall",
    ),
    "schema from tomorrow": ("schema = 99", "schema", "schema = 1"),
    "extends nothing": ('extends = "../gone/robot.toml"', "extends", "no file"),
    "extends itself": ('extends = "robot.toml"', "extends", "circle"),
    "extends a number": ("extends = 3", "extends", "not a path"),
    "servo file missing": ('servo_files = ["gone.toml"]', "servo_files", "no file"),
    "servo files no list": ('servo_files = "gone.toml"', "servo_files", "a list of paths"),
    "TOML": ('name = "a"\nrevision = \n', "", "line 2"),
    "key twice": ('name = "a"\nname = "b"', "", "line 2"),
    "huge number": ("schema = " + "9" * 5000, "", "out of range"),
    "nested too deep": ("a = " + "[" * 5000 + "]" * 5000, "", "TOML"),
}


@pytest.mark.parametrize("fault", BROKEN)
def test_broken_sheet(fault, tmp_path):
    text, place, words = BROKEN[fault]
    file = tmp_path / "robot.toml"
    file.write_text(text)
    with pytest.raises(RobotError) as caught:
        read_sheet(file)
    assert caught.value.file == file
    assert caught.value.place.startswith(place)
    assert words in str(caught.value)
    assert caught.value.cure.endswith((".", "?", "!"))


def test_first_fault_in_file_order_and_a_count(tmp_path):
    file = tmp_path / "robot.toml"
    file.write_text('[stance]\nlift = "3 V"\n[requirements]\npayload = "3 V"\nslope = "3 V"\n')
    with pytest.raises(RobotError, match="2 more faults") as caught:
        read_sheet(file)
    assert caught.value.place == "stance.lift"


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"\xff\xfe\x00n", "UTF-8"), (b"x" * 5_000_001, "5 MB"), (None, "does not exist")],
)
def test_unreadable_files(content, words, tmp_path):
    file = tmp_path / "robot.toml"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(RobotError, match=words):
        read_sheet(file)


def test_a_folder_is_no_sheet(tmp_path):
    with pytest.raises(RobotError, match="folder"):
        read_sheet(tmp_path)


def test_an_empty_sheet_is_all_defaults(tmp_path):
    file = tmp_path / "robot.toml"
    file.write_text("")
    sheet = read_sheet(file)
    assert sheet.name is None
    assert sheet.battery is None


def test_errors_quote_no_more_than_a_line(tmp_path):
    file = tmp_path / "robot.toml"
    file.write_text('[stance]\nlift = "' + "x" * 100_000 + '"')
    with pytest.raises(RobotError) as caught:
        read_sheet(file)
    assert len(str(caught.value)) < 400
