"""The draw of a whole motion: energy balance, unknowns kept, columns independent."""

from __future__ import annotations

from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pytest

from legwright.mechanics.draw import Draw, draw, draw_of
from legwright.mechanics.drive import Drive, drive_of, drives_of
from legwright.mechanics.heat import (
    mean_square,
    steady_temperature,
    time_to_temperature,
    winding_heat,
)
from legwright.mechanics.servo_current import supply_current, winding_current
from legwright.mechanics.servo_line import available_torque
from legwright.robot.servo import Servo, from_urdf

LARK = Servo(
    id="lark",
    stall_torque="2.2 N*m",
    no_load_speed="6 rad/s",
    rated_voltage="7.4 V",
    stall_current="2.6 A",
    no_load_current="0.2 A",
    idle_current="20 mA",
    thermal_resistance="9 K/W",
    thermal_time="240 s",
    highest_winding="85 degC",
)  # invented
AMBIENT = 308.15


def of_joints(*servos: Servo | None) -> Drive:
    single = [drive_of(servo) for servo in servos]
    return Drive(
        **{
            field.name: np.array([getattr(one, field.name) for one in single])
            for field in fields(Drive)
        }
    )


def cycle(joints: int, samples: int = 64) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(11)
    return rng.normal(0.0, 0.5, (samples, joints)), rng.normal(0.0, 1.5, (samples, joints))


def test_mean_heat_holds_the_steady_temperature():
    """Balance: mean copper loss times thermal resistance is the winding's rise."""
    torque, speed = cycle(4)
    drawn = draw_of(of_joints(*[LARK] * 4), torque, speed, voltage=7.0, ambient=AMBIENT)
    rise = drawn.heat.mean(axis=0) * 9.0
    np.testing.assert_allclose(drawn.steady_temperature - AMBIENT, rise, rtol=1e-12)
    assert np.all(drawn.steady_temperature > AMBIENT)
    assert np.all(np.isinf(drawn.time_to_limit))


def test_an_overloaded_joint_reaches_its_limit():
    """Stall for ever: hotter than the limit, in a time that a smaller load prolongs."""
    torque = np.tile([2.2, 1.6, 0.3], (8, 1))
    drawn = draw_of(of_joints(*[LARK] * 3), torque, 0.0 * torque, ambient=AMBIENT)
    assert drawn.time_to_limit[0] < drawn.time_to_limit[1] < np.inf == drawn.time_to_limit[2]
    assert drawn.winding[0] == pytest.approx(358.15)  # reckoned at its limit, not beyond
    assert drawn.steady_temperature[0] > 358.15 > drawn.steady_temperature[2]
    assert drawn.rms_torque == pytest.approx([2.2, 1.6, 0.3])
    assert np.all((drawn.rms_torque > drawn.continuous) == np.isfinite(drawn.time_to_limit))


def test_heat_torque_meets_the_continuous_torque_at_the_limit():
    """Scale a cycle until its heat torque is the continuous one: it settles at the limit."""
    torque, speed = cycle(1)
    drives, factor = of_joints(LARK), 1.0
    for _ in range(60):
        drawn = draw_of(drives, factor * torque, speed, ambient=AMBIENT)
        factor *= float((drawn.continuous / drawn.heat_torque)[0])
    assert drawn.steady_temperature[0] == pytest.approx(358.15, rel=1e-6)
    assert drawn.heat_torque[0] != pytest.approx(drawn.rms_torque[0], rel=1e-3)


def test_unknown_servo_beside_known_ones():
    """No servo and a bare URDF give nan and `known` False; their neighbours are untouched."""
    torque, speed = cycle(3)
    mixed = draw_of(of_joints(LARK, None, from_urdf(3.0, 4.0)), torque, speed, ambient=AMBIENT)
    alone = draw_of(of_joints(LARK), torque[:, :1], speed[:, :1], ambient=AMBIENT)
    assert mixed.known.tolist() == [True, False, False]
    assert np.isnan(mixed.winding_current[:, 1:]).all()
    assert np.isnan(mixed.available[:, 1]).all()
    assert np.isfinite(mixed.available[:, 2]).all()
    for name in ("winding_current", "supply_current", "available", "heat"):
        np.testing.assert_array_equal(getattr(mixed, name)[:, 0], getattr(alone, name)[:, 0])


def test_lower_voltage_draws_more_and_gives_less():
    """Power stays, so supply current rises as voltage falls; headroom shrinks."""
    torque, speed = cycle(3)
    high, low = (
        draw_of(of_joints(*[LARK] * 3), torque, speed, voltage=v, ambient=AMBIENT)
        for v in (8.4, 6.0)
    )
    assert np.all(low.supply_current >= high.supply_current - 1e-12)
    assert np.all(low.available <= high.available)
    np.testing.assert_array_equal(low.winding_current, high.winding_current)
    sagging = np.full_like(torque, 8.4)
    sagging[5] = 6.0
    mixed = draw_of(of_joints(*[LARK] * 3), torque, speed, voltage=sagging, ambient=AMBIENT)
    np.testing.assert_allclose(mixed.supply_current[5], low.supply_current[5])
    np.testing.assert_allclose(mixed.supply_current[6], high.supply_current[6])


def test_cold_figures_on_request():
    """With the winding at 20 °C the maker's own line is used."""
    torque = np.full((4, 1), 0.4)
    cold = draw_of(of_joints(LARK), torque, 0.0 * torque, winding=293.15)
    assert cold.available[0, 0] == pytest.approx(2.2)
    warm = draw_of(of_joints(LARK), torque, 0.0 * torque)
    assert warm.available[0, 0] < 2.2
    assert warm.headroom[0, 0] == pytest.approx(warm.available[0, 0] / 0.4)


def test_all_of_it_is_what_the_formulas_give_for_each_number():
    """Referee: `servo_current`, `servo_line` and `heat`, array by array in NumPy."""
    quick = LARK.model_copy(update={"id": "quick", "peak_torque": 0.9, "gear_efficiency": 0.4})
    low = LARK.model_copy(update={"id": "low", "lowest_voltage": 6.6, "highest_winding": None})
    drives = of_joints(LARK, None, from_urdf(3.0, 4.0), quick, low)
    torque, speed = cycle(5)
    torque[:3], speed[2:5] = 0.0, 0.0
    torque[:, 3] *= 9.0  # runs away
    rng = np.random.default_rng(4)
    for volts in (None, 7.0, rng.uniform(5.0, 8.0, 5), rng.uniform(5.0, 8.0, (64, 5))):
        for winding in (None, 320.0, rng.uniform(290.0, 400.0, 5)):
            ours = draw_of(drives, torque, speed, voltage=volts, winding=winding, ambient=AMBIENT)
            current = winding_current(drives, torque, speed)
            at = {"winding": ours.winding}
            most = available_torque(drives, speed, volts, driven=torque * speed < 0.0, **at)
            square = mean_square(current)
            thermal = (square, drives.resistance, drives.thermal_resistance)
            limit = {"limit": drives.highest_winding, "ambient": AMBIENT}
            with np.errstate(divide="ignore", invalid="ignore"):
                headroom = np.where((most == 0.0) & (torque == 0.0), 0.0, most / np.abs(torque))
            expected = {
                "winding_current": np.abs(current),
                "supply_current": supply_current(drives, current, speed, volts, **at),
                "available": most,
                "headroom": headroom,
                "heat": winding_heat(current, drives.resistance, ours.winding),
                "steady_temperature": steady_temperature(*thermal, AMBIENT),
                "time_to_limit": time_to_temperature(*thermal, drives.thermal_time, **limit),
                "rms_torque": np.sqrt(mean_square(torque)),
                "heat_torque": np.sqrt(square) * drives.torque_constant,
            }
            for name, values in expected.items():
                np.testing.assert_allclose(getattr(ours, name), values, rtol=1e-12, err_msg=name)
            if winding is not None:
                assert (ours.winding == winding).all()
            shape = (64, 5) if np.ndim(volts) == 2 else (5,)
            rated = drives.voltage if volts is None else volts
            np.testing.assert_array_equal(ours.voltage, np.broadcast_to(rated, shape))


def test_draw_of_a_robot_takes_voltage_and_ambient_from_the_sheet():
    """Voltage None is the battery's nominal; without a battery the servo's rated one."""
    torque, speed = cycle(2)
    robot = _robot(battery=SimpleNamespace(nominal_voltage=6.6))
    drawn = draw(robot, SimpleNamespace(qd=speed), SimpleNamespace(torque=torque))
    assert drawn.voltage.tolist() == [6.6, 6.6]
    assert drawn.ambient == AMBIENT
    bare = draw(_robot(None), SimpleNamespace(qd=speed), SimpleNamespace(torque=torque))
    assert bare.voltage.tolist() == [7.4, 7.4]
    assert isinstance(bare, Draw)


def test_constants_are_packed_once_per_robot():
    """The same robot gives the very same arrays."""
    robot = _robot(None)
    assert drives_of(robot) is drives_of(robot)
    assert drives_of(robot).stall_torque.tolist() == [2.2, 2.2]
    assert not drives_of(robot).stall_torque.flags.writeable


class _Bare:
    """As much of a robot as `draw` reads."""

    def __init__(self, sheet: SimpleNamespace) -> None:
        self.sheet = sheet
        self.joint_names = ("a", "b")
        self.servos = {"a": LARK, "b": LARK}


def _robot(battery: SimpleNamespace | None) -> _Bare:
    needs = SimpleNamespace(ambient=AMBIENT)
    return _Bare(SimpleNamespace(battery=battery, requirements=needs))


def test_reordering_joints_reorders_the_draw():
    """A permutation of the columns permutes every result and changes nothing else."""
    strong = LARK.model_copy(update={"stall_torque": 3.5, "thermal_resistance": 6.0})
    servos = [LARK, None, strong, from_urdf(3.0, 4.0), LARK]
    order = [3, 0, 4, 2, 1]
    torque, speed = cycle(5)
    one = draw_of(of_joints(*servos), torque, speed, voltage=7.0, ambient=AMBIENT)
    two = draw_of(
        of_joints(*[servos[i] for i in order]),
        torque[:, order],
        speed[:, order],
        voltage=7.0,
        ambient=AMBIENT,
    )
    for field in fields(Draw):
        if field.name != "ambient":
            want = getattr(one, field.name)[..., order]
            np.testing.assert_allclose(getattr(two, field.name), want, rtol=1e-12)
