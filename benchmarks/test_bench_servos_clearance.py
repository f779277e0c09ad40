"""Draw, clearance and heights of one cycle: 128 samples of a six-legged robot."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from legwright.mechanics.clearance import clearance, range_clearance
from legwright.mechanics.draw import draw_of
from legwright.mechanics.drive import Drive, drive_of
from legwright.mechanics.ground_clearance import ground_clearance
from legwright.mechanics.kinematics import kinematics_of
from legwright.mechanics.neighbours import joint_ranges
from legwright.mechanics.pose import still
from legwright.robot.loading import load
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo

WILD = Path(__file__).parents[1] / "tests" / "data" / "wild" / "r102.urdf"
SAMPLES = 128


@pytest.fixture(scope="module")
def robot() -> Robot:
    return load(WILD, solver=kinematics_of)


@pytest.fixture(scope="module")
def cycle(robot):
    """A smooth cycle of all joints about the middle of their ranges, (128, 18)."""
    lower, upper = joint_ranges(robot)
    phase = np.linspace(0.0, 2.0 * np.pi, SAMPLES, endpoint=False)[:, None]
    shift = np.arange(len(lower))
    return 0.5 * (lower + upper) + 0.15 * np.sin(phase + shift)


def test_draw(benchmark):
    """Asked: at most 2 ms for 128 x 18."""
    servo = Servo(
        stall_torque="2.2 N*m",
        no_load_speed="6 rad/s",
        rated_voltage="7.4 V",
        stall_current="2.6 A",
        no_load_current="0.2 A",
        thermal_resistance="9 K/W",
        thermal_time="240 s",
        highest_winding="85 degC",
    )
    one = drive_of(servo)
    drives = Drive(**{f.name: np.repeat(getattr(one, f.name), 18) for f in fields(Drive)})
    rng = np.random.default_rng(1)
    torque, speed = rng.normal(0.0, 0.6, (2, SAMPLES, 18))
    benchmark(draw_of, drives, torque, speed, voltage=7.0, ambient=308.15)
    assert benchmark.stats["min"] < 2e-3


def test_clearance_of_a_cycle(benchmark, robot, cycle):
    """Asked: at most 0.3 s for all pairs in 128 poses."""
    clearance(robot, cycle)
    benchmark(clearance, robot, cycle)
    assert benchmark.stats["min"] < 0.3


def test_clearance_of_the_joint_ranges(benchmark, robot):
    benchmark(range_clearance, robot)


def test_heights_of_a_cycle(benchmark, robot, cycle):
    benchmark(ground_clearance, robot, still(robot, cycle))
