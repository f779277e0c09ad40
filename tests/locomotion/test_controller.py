"""The controller on a kinematic twin: getting up, walking, stopping, single legs, faults."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from twin import Twin

import legwright as lw
from legwright.errors import RequestError
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Controller, Stage
from legwright.locomotion.gait import gait
from legwright.robot.robot import Robot

ROOT = Path(__file__).parents[2]
FOUR_SIX_EIGHT = ("r104", "r106", "r101")


def walking(name: str, legs: int, **how: object) -> Command:
    return Command(kind=Kind.WALK, gait=gait(name, legs), **how)


@pytest.fixture
def up(rook: Robot) -> Twin:
    twin = Twin(rook)
    twin.run(Command(), 6.0)
    return twin


def test_stands_up_to_the_stance_height(up: Twin) -> None:
    able = up.controller.able
    assert up.controller.stage is Stage.UP
    np.testing.assert_allclose(up.feet(), able.footing.feet, atol=1e-3)


@pytest.mark.parametrize("seed", range(6))
def test_stands_up_from_any_pose(rook: Robot, seed: int) -> None:
    twin = Twin(rook)
    fixed = twin.controller.able.fixed
    twin.q = np.random.default_rng(seed).uniform(fixed.lower, fixed.upper)
    twin.run(Command(), 15.0)
    assert twin.controller.stage is Stage.UP
    assert twin.controller.contact.all()
    np.testing.assert_allclose(twin.feet()[:, 2], -twin.controller.able.footing.height, atol=2e-3)
    assert twin.worst_speed <= 1.001
    assert twin.worst_surge <= 1.001


@pytest.mark.parametrize("twist", [(0.06, 0.0, 0.0), (0.0, 0.05, 0.0), (0.0, 0.0, 0.3),
                                   (0.03, -0.02, 0.15), (-0.05, 0.0, 0.0)])  # fmt: skip
@pytest.mark.parametrize("name", ["tripod", "ripple", "wave"])
def test_walks_with_any_twist(up: Twin, name: str, twist: tuple[float, float, float]) -> None:
    """Referee: the twist integrated over the last seconds; odometry within 5 %, turning too."""
    command = walking(name, 6, velocity=twist[:2], turn=twist[2])
    up.run(command, 3.0)
    slowed = [e for e in up.events if e.what == "slowed"]
    share = 1.0
    if slowed:
        share = float(slowed[-1].text.split("%")[0].split()[-1]) / 100.0
    start = up.controller.place
    up.run(command, 10.0)
    gone = up.controller.place - start
    assert gone[2] == pytest.approx(share * twist[2] * 10.0, rel=0.05, abs=1e-6)
    if twist[2] == 0.0:
        c, s = np.cos(start[2]), np.sin(start[2])
        ahead = np.array([c * gone[0] + s * gone[1], c * gone[1] - s * gone[0]])
        np.testing.assert_allclose(ahead, 10.0 * share * np.array(twist[:2]), rtol=0.05, atol=1e-3)
    assert up.worst_slip < 1e-4
    assert up.least_margin >= up.controller._orders.margin - 1e-3


def test_stops_within_one_step(up: Twin) -> None:
    up.run(walking("ripple", 6, velocity=(0.06, 0.0)), 4.3)
    up.events.clear()
    up.run(Command(), 2.5)
    assert up.controller.contact.all()
    assert all(e.what != "lifted" for e in up.events)
    place = up.controller.place
    q = up.q.copy()
    up.run(Command(), 5.0)
    np.testing.assert_allclose(up.controller.place, place, atol=1e-9)
    np.testing.assert_allclose(up.q, q, atol=1e-6)


def test_too_fast_is_slowed_and_says_which_limit(up: Twin) -> None:
    up.run(walking("wave", 6, velocity=(1.0, 0.0)), 5.0)
    told = [event for event in up.events if event.what == "slowed"]
    assert len(told) == 1
    assert "stride" in told[0].text or "joint speed" in told[0].text
    assert up.controller.place[0] > 0.02


def test_a_pose_out_of_reach_is_limited(up: Twin) -> None:
    up.run(Command(height=0.5), 3.0)
    assert any(event.what == "limited" for event in up.events)
    assert up.worst_slip < 1e-4


def test_lifts_and_places_one_leg(up: Twin) -> None:
    rest = up.feet()[0, 2]
    up.run(Command(kind=Kind.LIFT, leg="left-front", height=0.04), 3.0)
    assert not up.controller.contact[0]
    assert up.controller.contact[1:].all()
    assert up.feet()[0, 2] - rest == pytest.approx(0.04, abs=2e-3)
    target = (0.20, 0.18)
    up.run(Command(kind=Kind.PLACE, leg="left-front", target=target), 3.0)
    assert up.controller.contact.all()
    np.testing.assert_allclose(up.feet()[0, :2], target, atol=2e-3)


def test_sits_down(up: Twin) -> None:
    up.run(walking("tripod", 6, velocity=(0.05, 0.02)), 3.0)
    up.run(Command(kind=Kind.SIT), 8.0)
    assert up.controller.stage is Stage.DOWN
    assert -up.feet()[:, 2].mean() < 0.6 * up.controller.able.footing.height


@pytest.mark.parametrize("name", FOUR_SIX_EIGHT)
def test_other_numbers_of_legs_walk(name: str) -> None:
    robot = lw.load(ROOT / "tests" / "data" / "wild" / f"{name}.urdf")
    twin = Twin(robot)
    twin.run(Command(), 8.0)
    twin.least_margin = np.inf
    twin.run(walking("wave", len(robot.legs), velocity=(0.05, 0.0)), 12.0)
    assert twin.controller.place[0] > 0.03
    assert twin.worst_slip < 2e-3
    assert twin.least_margin > 0.0


def test_a_lost_servo_ends_sitting(up: Twin) -> None:
    command = walking("ripple", 6, velocity=(0.06, 0.0))
    up.run(command, 3.0)
    whole = up.sensed
    up.sensed = lambda: replace(  # type: ignore[method-assign]
        whole(), q=np.where(np.arange(18) == 4, np.nan, whole().q)
    )
    up.run(command, 10.0)
    assert [e.what for e in up.events].count("joint lost") == 1
    assert up.controller.stage is Stage.DOWN


def test_a_moment_of_silence_changes_nothing(up: Twin) -> None:
    whole = up.sensed
    up.sensed = lambda: replace(  # type: ignore[method-assign]
        whole(), q=np.full(18, np.nan), current=np.full(18, np.nan)
    )
    up.run(Command(), 0.04)
    up.sensed = whole  # type: ignore[method-assign]
    up.run(Command(), 1.0)
    assert up.controller.stage is Stage.UP
    assert not any(event.what == "joint lost" for event in up.events)


def test_waits_for_joints_before_it_moves(rook: Robot) -> None:
    twin = Twin(rook)
    sensed = replace(twin.sensed(), q=np.where(np.arange(18) == 2, np.nan, twin.q))
    targets, events = twin.controller.step(sensed, Command(), 0.01)
    assert events[0].what == "waiting"
    assert np.isnan(targets.q[2])


@pytest.mark.parametrize("dt", [0.0, -0.01, np.nan, np.inf])
def test_refuses_a_wrong_time_step(up: Twin, dt: float) -> None:
    with pytest.raises(RequestError, match="dt"):
        up.controller.step(up.sensed(), Command(), dt)


def test_a_late_step_is_told_and_kept_smooth(up: Twin) -> None:
    up.run(walking("tripod", 6, velocity=(0.06, 0.0)), 3.0)
    q = up.q.copy()
    targets, events = up.controller.step(up.sensed(), walking("tripod", 6), 3.0)
    assert any(event.what == "late" for event in events)
    assert np.abs(targets.q - q).max() < 0.25 * up.controller.able.fixed.speed.max()


def test_refuses_unknown_legs_and_slow_rates(rook: Robot, up: Twin) -> None:
    with pytest.raises(RequestError, match="left-front"):
        up.run(Command(kind=Kind.LIFT, leg="left-frnt"), 0.1)
    with pytest.raises(RequestError, match="rate"):
        Controller(rook, rate=5.0)
    with pytest.raises(RequestError, match="finite"):
        Command(velocity=(np.nan, 0.0))
