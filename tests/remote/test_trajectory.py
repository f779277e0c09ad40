"""Legs led along a path: checked before it runs, held at its end, and back the same way."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import legwright as lw
from legwright.locomotion.abilities import abilities
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.path import Path, lead_feet, lead_joints
from legwright.locomotion.stance import footing
from legwright.rig.handover import pack_request, unpack_request
from legwright.rig.request import Request, Word

LEG = "left-front"


@pytest.fixture(scope="module")
def stood(rook: Any) -> tuple[Any, np.ndarray, np.ndarray]:
    stand = footing(rook)
    q = np.array(stand.q)
    return abilities(rook, stand), q, rook.legs[LEG].foot(q[rook.columns[LEG]])


def test_a_path_goes_through_its_points_at_their_times(rook: Any, stood: Any) -> None:
    able, q, foot = stood
    points = foot + np.array([[0, 0, 0.04], [0.02, 0, 0.05], [0, 0.02, 0.04]])
    path = lead_feet(rook, able, q, {LEG: points}, [1.0, 2.0, 3.0], rate=100.0)
    assert path.columns == (0, 1, 2) and path.q.shape == (301, 3)
    np.testing.assert_array_equal(path.q[0], q[:3])
    np.testing.assert_allclose(rook.legs[LEG].foot(path.q[[100, 200, 300]]), points, atol=1e-6)
    assert np.abs(np.diff(path.q[[0, 1, -2, -1]], axis=0)[[0, 2]]).max() < 1e-3, "at rest"


def test_joints_may_be_led_too(rook: Any, stood: Any) -> None:
    able, q, _ = stood
    raised = q[:3] + np.array([0.1, 0.4, 0.1])
    path = lead_joints(rook, able, q, {LEG: [raised]}, [1.0], rate=100.0)
    np.testing.assert_allclose(path.q[-1], raised)


@pytest.mark.parametrize(
    ("offsets", "times", "why"),
    [
        ([[0, 0, 0.04], [0.5, 0, 0.05]], [1, 2], "within reach"),
        ([[0, 0, -0.02]], [1], "over the ground"),
        ([[0.03, 0, 0]], [1], "lifted"),
        ([[0, 0, 0.05]], [0.05], "rad/s"),
        ([[0, 0, 0.05]], [0.0], "rising"),
        ([[0, 0, 0.05]], [float("nan")], "rising"),
        ([[0, 0, 0.05]], [31.0], "at most 30 s"),
        ([[0, 0, float("inf")]], [1], "finite"),
        ([[0, 0, 0.05], [0, 0, 0.05]], [1], "1 rows"),
        ([[0, 0.05]], [1], "three wide"),
    ],
)
def test_what_breaks_a_limit_is_refused(
    rook: Any, stood: Any, offsets: Any, times: Any, why: str
) -> None:
    able, q, foot = stood
    points = np.array([[*foot[: len(o)]] for o in offsets]) + np.array(offsets)
    with pytest.raises(lw.RequestError, match=why):
        lead_feet(rook, able, q, {LEG: points}, times, rate=100.0)


def test_the_other_legs_must_hold_the_robot(rook: Any, stood: Any) -> None:
    able, q, _ = stood
    left = ["left-front", "left-middle", "left-rear"]
    raised = {leg: [q[rook.columns[leg]] + [0, 0.3, 0]] for leg in left}
    with pytest.raises(lw.RequestError, match="stability margin"):
        lead_joints(rook, able, q, raised, [1.0], rate=100.0)
    with pytest.raises(lw.RequestError, match="leave 3 standing"):
        four = {leg: [q[rook.columns[leg]]] for leg in list(rook.legs)[:4]}
        lead_joints(rook, able, q, four, [1.0], rate=100.0)
    with pytest.raises(lw.RequestError, match="some of"):
        lead_joints(rook, able, q, {"tail": [[0, 0, 0]]}, [1.0], rate=100.0)


def test_a_leg_is_led_held_and_goes_back() -> None:
    with lw.connect("sim:robots/rook", pace=None) as robot:
        with pytest.raises(lw.LinkError, match="stand first"):
            robot.leg(LEG).lead([[0.25, 0.2, -0.06]], [1.0])
        robot.stand()
        with pytest.raises(lw.RequestError, match="within reach"):
            robot.leg(LEG).lead([[0.9, 0.2, -0.06]], [1.0])
        foot = robot.state.feet[LEG]
        points = foot + np.array([[0, 0, 0.04], [0.02, 0.01, 0.05]])
        start = robot.state.time
        robot.leg(LEG).lead(points, [0.8, 1.6])
        assert robot.state.time - start == pytest.approx(1.6, abs=0.15)
        assert robot.state.mode == "single-leg"
        np.testing.assert_allclose(robot.state.feet[LEG], points[-1], atol=0.006)
        with pytest.raises(lw.LinkError, match="stand first"):
            robot.leg(LEG).lead(points, [1.0, 2.0])
        robot.stand()
        assert robot.state.mode == "standing"
        np.testing.assert_allclose(robot.state.feet[LEG], foot, atol=0.004)
        robot.walk(forward=0.05, seconds=1)


def test_a_led_leg_goes_back_when_its_driver_falls_silent(driver: Any) -> None:
    robot = driver.local
    foot = robot.rig.robot.legs[LEG].foot(robot.runtime._told.q[:3])
    rows = [[foot[0], foot[1], foot[2] + 0.05]]
    assert driver.ask("trajectory", legs={LEG: rows}, times=[1.0])["ok"]
    driver.run(0.6)
    assert driver.mode == "single-leg" and robot.runtime.following.away
    driver.run(1.2, alive=False)
    assert not robot.runtime.following.away and driver.mode == "standing"


@pytest.mark.parametrize(("category", "mode"), [(0, "fault"), (1, "fault"), (2, "standing")])
def test_a_stop_finds_a_led_leg_its_way(driver: Any, category: int, mode: str) -> None:
    robot = driver.local
    foot = robot.rig.robot.legs[LEG].foot(robot.runtime._told.q[:3])
    rows = [[foot[0], foot[1], foot[2] + 0.05]]
    driver.ask("trajectory", legs={LEG: rows}, times=[1.0])
    driver.run(0.6)
    driver.raw(type="stop", category=category)
    driver.run(6.0)
    assert driver.mode == mode
    assert not robot.runtime.following.away


def test_a_path_survives_the_hand_over_to_the_control_process() -> None:
    path = Path(columns=(3, 4, 5), q=np.arange(30.0).reshape(10, 3))
    command = Command(kind=Kind.FOLLOW, path=path)
    request = Request(word=Word.MOVE, number=7, command=command, expires=1.5)
    found = unpack_request(pack_request(request))
    assert isinstance(found, Request) and found.command is not None
    assert (found.command.kind, found.expires, found.number) == (Kind.FOLLOW, 1.5, 7)
    assert found.command.path is not None and found.command.path.columns == path.columns
    np.testing.assert_array_equal(found.command.path.q, path.q)
