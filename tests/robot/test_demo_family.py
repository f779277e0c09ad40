"""The demo robots: complete, alike, and honest about what is invented."""

from math import pi
from pathlib import Path

import pytest

from legwright.mechanics.kinematics import kinematics_of
from legwright.robot.loading import load

ROBOTS = Path(__file__).parents[2] / "robots"
COPPER = 0.00393  # per kelvin at 20 degC, IEC 60028:1925


@pytest.fixture(params=["wren", "rook", "heron"], scope="module")
def robot(request):
    return load(ROBOTS / request.param, solver=kinematics_of)


def test_six_legs_of_three_joints_and_a_mast(robot):
    assert len(robot.legs) == 6
    assert all(leg.n == 3 for leg in robot.legs.values())
    assert set(robot.held) == {"mast_pan", "mast_tilt"}


def test_eight_ports_feed_every_joint_once(robot):
    hub = robot.sheet.hub
    fed = [joint for branch in hub.branch.values() for joint in branch.chain]
    assert hub.ports == len(hub.branch) == 8
    assert sorted(fed) == sorted(robot.servos)
    assert sorted(robot.sheet.bus.nodes) == sorted(robot.servos)


def test_every_table_is_filled(robot):
    sheet = robot.sheet
    for table in ("battery", "protection", "hub", "harness", "bus", "lights"):
        assert getattr(sheet, table) is not None
    asked = sheet.requirements.model_dump()
    assert [key for key, value in asked.items() if value is None] == []


def test_servos_are_named_as_invented(robot):
    assert all(servo.invented for servo in robot.sheet.servo.values())


def test_servo_data_agree_with_a_motor(robot):
    """Referee: the linear motor law: one constant k serves torque and back-EMF.

    With R, idle current i and no-load current i0: stall I = U/R + i, and
    k = (U - (i0 - i) R)/w0 must give the stall torque k * efficiency * U/R, within 3 %.
    """
    for servo in robot.sheet.servo.values():
        volt, ohm = servo.rated_voltage, servo.winding_resistance
        stall = volt / ohm
        assert servo.stall_current == pytest.approx(stall + servo.idle_current, rel=0.03)
        constant = (volt - (servo.no_load_current - servo.idle_current) * ohm) / servo.no_load_speed
        torque = constant * servo.gear_efficiency * stall
        assert servo.stall_torque == pytest.approx(torque, rel=0.03)


def test_continuous_torque_agrees_with_the_heat(robot):
    """Referee: steady winding heat I^2 R(T) Rth = T - 25 degC at the limit, within 6 %."""
    for servo in robot.sheet.servo.values():
        rise = servo.highest_winding - 298.15
        ohm = servo.winding_resistance * (1.0 + COPPER * (servo.highest_winding - 293.15))
        current = (rise / (servo.thermal_resistance * ohm)) ** 0.5
        share = current * servo.winding_resistance / servo.rated_voltage
        assert servo.continuous_torque == pytest.approx(share * servo.stall_torque, rel=0.06)


def test_battery_suits_the_servos(robot):
    battery = robot.sheet.battery
    for servo in robot.servos.values():
        assert servo.lowest_voltage < battery.cutoff_voltage
        assert battery.full_voltage < servo.highest_voltage


def test_sizes_are_those_of_the_family():
    mass = {
        name: load(ROBOTS / name, solver=kinematics_of).mass for name in ("wren", "rook", "heron")
    }
    assert 0.7 < mass["wren"] < 1.3
    assert 2.5 < mass["rook"] < 4.0
    assert 8.0 < mass["heron"] < 10.0


def test_left_and_right_stand_alike(robot):
    for name, leg in robot.legs.items():
        if name.startswith("left"):
            twin = robot.legs[name.replace("left", "right")]
            assert leg.hip * [1, -1, 1] == pytest.approx(twin.hip, abs=1e-9)
            assert leg.foot([0.3, 0.2, -0.1]) * [1, -1, 1] == pytest.approx(
                twin.foot([-0.3, 0.2, -0.1]), abs=1e-9
            )
            assert abs(leg.lower[0]) < pi
