"""The calibration file: read back as written, and every fault named with its place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import legwright
from legwright.errors import RobotError
from legwright.rig.calibration import (
    Calibration,
    blank,
    calibration_of,
    read_calibration,
    write_calibration,
)
from legwright.rig.can.scales import scales_of
from legwright.robot.robot import Robot


def filled(robot: Robot) -> Calibration:
    rng = np.random.default_rng(8)
    found = Calibration(
        robot=robot.name, made="2031-04-12T10:22:00+02:00", made_with=legwright.__version__
    )
    for number, name in enumerate(robot.joint_names):
        found = found.with_joint(name, node=number + 1, direction=int(rng.choice([-1, 1])))
        found = found.with_joint(name, zero=float(rng.uniform(-3, 3)), friction=0.2, serial=number)
    return found


def test_what_is_written_is_read_back_bit_for_bit(rook: Robot, tmp_path: Path):
    path = tmp_path / "calibration.toml"
    write_calibration(path, filled(rook))
    assert read_calibration(path, rook) == filled(rook)
    assert list(tmp_path.iterdir()) == [path], "nothing else is left behind"


def test_a_robot_finds_the_file_in_its_folder(rook: Robot, tmp_path: Path):
    robot = replace(rook, source=tmp_path / "robot.toml")
    assert calibration_of(robot) is None
    write_calibration(tmp_path / "calibration.toml", filled(rook))
    assert calibration_of(robot) == filled(rook)


def test_missing_joints_are_told(rook: Robot):
    assert blank(rook).missing(rook.joint_names) == ()
    few = Calibration(robot="rook").with_joint(rook.joint_names[0], zero=0.1)
    assert few.missing(rook.joint_names) == rook.joint_names[1:]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("schema = 2\n", "schema: is 2, not 1"),
        ("schema = [\n", "cannot be read"),
        ('schema = 1\nrobot = "wren"\n', "robot: is 'wren', this robot is 'rook'"),
        ('schema = 1\nrobot = "rook"\nzero = 1\n', "zero: is not a known key"),
        ('schema = 1\nrobot = "rook"\n[joint.left_front_cox]\n', "Did you mean 'left_front_coxa'"),
        ('schema = 1\nrobot = "rook"\n[joint.left_front_coxa]\nzer = 1\n', "Did you mean 'zero'"),
        ('schema = 1\nrobot = "rook"\n[joint.left_front_coxa]\nzero = nan\n', "a finite number"),
        ('schema = 1\nrobot = "rook"\n[joint.left_front_coxa]\ndirection = 2\n', "Write 1 or -1"),
        ('schema = 1\nrobot = "rook"\n[joint.left_front_coxa]\nnode = 128\n', "1 to 127"),
        ('schema = 1\nrobot = "rook"\n[joint.left_front_coxa]\nnode = 1.5\n', "whole number"),
        ('schema = 1\nrobot = "rook"\n[joint]\nleft_front_coxa = 3\n', "is no table"),
    ],
)
def test_a_broken_file_is_answered_with_place_and_cure(
    rook: Robot, tmp_path: Path, text: str, said: str
):
    path = tmp_path / "calibration.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RobotError) as fault:
        read_calibration(path, rook)
    assert said in str(fault.value) and "calibration.toml" in str(fault.value)


def test_a_folder_that_cannot_be_written_is_told(rook: Robot, tmp_path: Path):
    with pytest.raises(RobotError, match="cannot be written"):
        write_calibration(tmp_path / "nowhere" / "calibration.toml", filled(rook))


def test_counts_and_joint_angles_convert_both_ways(rook: Robot):
    scales = scales_of(filled(rook), rook.joint_names, counts=65536, rated=0.8)
    rng = np.random.default_rng(1)
    q = rng.uniform(-2, 2, (100, 18))
    np.testing.assert_allclose(scales.position(scales.count(q)), q, atol=np.pi / 65536 * 1.01)
    current = rng.uniform(-2, 2, (100, 18))
    back = scales.current(scales.per_mille(current))
    np.testing.assert_allclose(back, current, atol=0.4e-3 * 1.01)
    up = scales.position(np.ones(18)) - scales.position(np.zeros(18))
    np.testing.assert_allclose(up, scales.direction * 2 * np.pi / 65536)
