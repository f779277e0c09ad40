"""Every rig against the contract, and rigs chosen by their text."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rig_contract import CONTRACT, READS, Given

import legwright as lw
from legwright.errors import RequestError, RigError
from legwright.rig.can.drive_faults import Ail
from legwright.rig.can.virtual import VirtualCan
from legwright.rig.choice import rig_of
from legwright.rig.recorder import Recorder
from legwright.rig.replayed import Replayed
from legwright.rig.simulated import Simulated
from legwright.robot.robot import Robot

RATE = 50.0

Check = Callable[[Given], None]


def simulated(robot: Robot, folder: Path) -> Given:
    rig = Simulated(robot, rate=RATE)
    return Given(rig=rig, silence=rig.world.silence)


def plain_drives(robot: Robot, folder: Path) -> Given:
    rig = VirtualCan(robot, rate=RATE, physics=False)
    return Given(rig=rig, silence=lambda name: rig.bench.ailments.inflict(name, Ail.DEAD))


def drives_and_physics(robot: Robot, folder: Path) -> Given:
    rig = VirtualCan(robot, rate=RATE)
    return Given(rig=rig, silence=lambda name: rig.bench.ailments.inflict(name, Ail.MUTE))


RIGS = (simulated, plain_drives, drives_and_physics)


@pytest.fixture
def given(request: pytest.FixtureRequest, rook: Robot, tmp_path: Path) -> Iterator[Given]:
    made: Given = request.param(rook, tmp_path)
    yield made
    made.rig.close()


@pytest.mark.parametrize("check", CONTRACT, ids=lambda check: check.__name__)
@pytest.mark.parametrize("given", RIGS, indirect=True, ids=lambda make: make.__name__)
def test_rig_keeps_the_contract(given: Given, check: Check):
    check(given)


@pytest.mark.parametrize("make", [simulated, drives_and_physics], ids=lambda make: make.__name__)
def test_turn_rates_come_with_the_tilt_where_a_sensor_is(make, rook: Robot, tmp_path: Path):
    for robot, there in ((rook, True), (without_inertial(rook), False)):
        rig = make(robot, tmp_path).rig
        rig.advance()
        sensed = rig.sense()
        assert (sensed.up is not None) == (sensed.spin is not None) == there
        assert not there or sensed.spin.shape == (3,)
        rig.close()


def without_inertial(robot: Robot) -> Robot:
    sensors = robot.sheet.sensors.model_copy(update={"inertial": False})
    return replace(robot, sheet=robot.sheet.model_copy(update={"sensors": sensors}))


def recorded(robot: Robot, folder: Path) -> Path:
    rig = Simulated(robot, rate=RATE)
    with Recorder(folder / "run.mcap", robot, rate=RATE) as recorder:
        for cycle in range(20):
            recorder.sensed(cycle / RATE, rig.sense())
            rig.advance()
    rig.close()
    return folder / "run.mcap"


@pytest.mark.parametrize("check", READS, ids=lambda check: check.__name__)
def test_a_replay_keeps_what_can_be_kept_without_moving(rook: Robot, tmp_path: Path, check: Check):
    check(Given(rig=Replayed(rook, recorded(rook, tmp_path)), moves=False))


def test_a_replay_tells_what_was_recorded(rook: Robot, tmp_path: Path):
    rig = rig_of(f"replay:{recorded(rook, tmp_path)}", rook)
    twin = Simulated(rook, rate=RATE)
    for _ in range(20):
        told, was = rig.sense(), twin.sense()
        np.testing.assert_allclose(told.q, was.q, atol=1e-6)
        np.testing.assert_allclose(told.current, was.current, atol=1e-6)
        np.testing.assert_allclose(told.spin, was.spin, atol=1e-6)
        rig.advance()
        twin.advance()
    with pytest.raises(RigError, match="moves nothing"):
        rig.power(True)


def test_a_recording_of_other_joints_is_refused_and_of_another_robot_is_told(
    rook: Robot, tmp_path: Path
):
    path = recorded(rook, tmp_path)
    four = replace(rook, legs=dict(list(rook.legs.items())[:4]))
    with pytest.raises(RigError, match="recorded with rook"):
        Replayed(four, path)
    notes = Replayed(lw.load("robots/wren"), path).notes
    assert any("recorded with rook" in note for note in notes)


@pytest.mark.parametrize(
    ("text", "options", "said"),
    [
        ("simm", {}, "Did you mean 'sim'"),
        ("can", {}, "can:virtual"),
        ("can:socketcan", {}, "can:socketcan:can0"),
        ("replay:", {}, "replay:runs"),
        ("sim", {"sede": "1"}, "Did you mean 'seed'"),
        ("sim", {"seed": "-1"}, "0 or more"),
        ("can:virtual", {"rate": "fast"}, "1 to 1000"),
        ("can:virtual", {"physics": "perhaps"}, "yes or no"),
    ],
)
def test_a_wrong_text_is_answered_with_the_cure(rook: Robot, text: str, options, said: str):
    with pytest.raises(RequestError, match=said):
        rig_of(text, rook, options)


def test_an_adapter_needs_a_can_bus_in_the_sheet(rook: Robot):
    with pytest.raises(RigError, match="describes no CAN bus"):
        rig_of("can:socketcan:can0", rook)


def test_rigs_by_text(rook: Robot):
    with_physics = rig_of("can:virtual", rook, {"physics": "no", "rate": "50"})
    assert isinstance(with_physics, VirtualCan) and with_physics.world is None
    with_physics.close()
    world = rig_of("sim:steps", rook, {"seed": "3", "rate": "50"})
    assert isinstance(world, Simulated) and world.world.ground.name == "steps"
    world.close()
