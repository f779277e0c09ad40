"""Sensors that fail and joints that do not answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from twin import Twin

from legwright.errors import RequestError
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Stage
from legwright.locomotion.gait import gait
from legwright.locomotion.signals import Sensed
from legwright.locomotion.sitting import Sinking
from legwright.locomotion.walk import Pose
from legwright.robot.robot import Robot

WALK = Command(kind=Kind.WALK, velocity=(0.06, 0.0), gait=gait("ripple", 6))
NAN18 = np.full(18, np.nan)


@pytest.fixture
def walker(rook: Robot) -> Twin:
    twin = Twin(rook, feel=False)
    twin.run(Command(), 5.0)
    twin.run(WALK, 2.0)
    return twin


def spoil(twin: Twin, how: Callable[[Sensed], Sensed]) -> None:
    whole = twin.sensed
    twin.sensed = lambda: how(whole())  # type: ignore[method-assign]


@pytest.mark.parametrize(
    "how",
    [
        lambda s: replace(s, current=NAN18),
        lambda s: replace(s, qd=NAN18),
        lambda s: replace(s, voltage=float("nan")),
        lambda s: replace(s, up=np.array([0.0, np.nan, 1.0])),
        lambda s: replace(s, up=np.array([np.inf, 0.0, 1.0])),
        lambda s: replace(s, up=np.zeros(3)),
    ],
    ids=["current", "speed", "voltage", "up nan", "up inf", "up zero"],
)
@pytest.mark.parametrize("feel", [False, True])
def test_a_sensor_without_sense_leaves_targets_finite(rook: Robot, feel: bool, how) -> None:
    """Twin.run checks every target; the readings stay broken for two seconds and come back."""
    twin = Twin(rook, feel=feel)
    twin.run(Command(), 5.0)
    whole = twin.sensed
    spoil(twin, how)
    twin.run(WALK, 2.0)
    twin.sensed = whole  # type: ignore[method-assign]
    twin.run(WALK, 1.0)
    assert twin.controller.stage is Stage.UP
    assert twin.worst_speed <= 1.001


def test_endless_positions_count_as_silence(walker: Twin) -> None:
    spoil(walker, lambda s: replace(s, q=np.where(np.arange(18) == 3, np.inf, s.q)))
    walker.run(WALK, 0.2)
    lost = [event for event in walker.events if event.what == "joint lost"]
    assert len(lost) == 1
    assert lost[0].leg == "left-middle"


def test_single_samples_that_fail_again_and_again_change_nothing(walker: Twin) -> None:
    """Every second reading of a joint is lost: never 60 ms in a row."""
    count = iter(range(10**6))
    spoil(
        walker,
        lambda s: replace(s, q=np.where(np.arange(18) == 3, np.nan, s.q)) if next(count) % 2 else s,
    )
    before = walker.controller.place[0]
    walker.run(WALK, 3.0)
    assert not any(event.what == "joint lost" for event in walker.events)
    assert walker.controller.place[0] - before > 0.1


@pytest.mark.parametrize(
    "what",
    [
        {"velocity": (np.nan, 0.0)},
        {"velocity": (0.0, np.inf)},
        {"turn": np.nan},
        {"height": np.inf},
        {"height": -0.1},
        {"velocity": (0.1,)},
        {"kind": Kind.PROBE, "leg": "left-front", "force": np.nan},
        {"kind": Kind.PLACE, "leg": "left-front", "target": (np.nan, 0.0)},
        {"kind": Kind.LIFT},
    ],
    ids=str,
)
def test_commands_without_sense_are_refused_in_one_sentence(what: dict[str, object]) -> None:
    with pytest.raises(RequestError) as caught:
        Command(**({"kind": Kind.WALK} | what))  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


def test_a_pose_without_sense_is_refused() -> None:
    with pytest.raises(RequestError, match="roll"):
        Pose(roll=float("nan"))


@pytest.mark.parametrize(
    "wrong",
    [
        Command(kind=Kind.LIFT, leg="left-frnt"),
        Command(kind=Kind.WALK, velocity=(0.05, 0.0), gait=gait("wave", 4)),
    ],
    ids=["no such leg", "gait of another robot"],
)
def test_a_refused_command_leaves_the_walk_as_it_was(rook: Robot, wrong: Command) -> None:
    """Referee: a second walker that never heard the wrong command."""
    twins = Twin(rook), Twin(rook)
    for twin in twins:
        twin.run(Command(), 5.0)
        twin.run(WALK, 1.37)
    with pytest.raises(RequestError):
        twins[0].controller.step(twins[0].sensed(), wrong, 0.01)
    for twin in twins:
        twin.run(WALK, 1.0)
    np.testing.assert_array_equal(twins[0].q, twins[1].q)


def test_time_steps_of_any_length_stay_within_the_limits(walker: Twin) -> None:
    """From 2 ms to 60 ms at random: joints move no faster than they may."""
    random = np.random.default_rng(4)
    speed = walker.controller.able.fixed.speed
    for dt in random.uniform(0.002, 0.06, 300):
        targets, _ = walker.controller.step(walker.sensed(), WALK, float(dt))
        assert np.isfinite(targets.q).all()
        assert (np.abs(targets.q - walker.q) <= speed * dt * 1.001).all()
        walker.q = targets.q.copy()


def test_a_robot_on_its_back_stays_where_it_is_and_says_so(rook: Robot) -> None:
    twin = Twin(rook)
    spoil(twin, lambda s: replace(s, up=np.array([0.0, 0.1, -0.995])))
    q = twin.q.copy()
    twin.run(Command(), 2.0)
    assert [event.what for event in twin.events] == ["tipped"]
    assert twin.controller.stage is Stage.ASLEEP
    np.testing.assert_array_equal(twin.q, q)


def test_a_fall_ends_the_walk_and_standing_up_begins_anew(walker: Twin) -> None:
    whole = walker.sensed
    spoil(walker, lambda s: replace(s, up=np.array([0.0, 1.0, 0.05])))
    walker.run(WALK, 0.5)
    assert [e.what for e in walker.events if e.what in ("fallen", "tipped")] == ["fallen", "tipped"]
    assert walker.controller.stage is Stage.ASLEEP
    walker.sensed = whole  # type: ignore[method-assign]
    walker.run(Command(), 6.0, judge=False)
    assert walker.controller.stage is Stage.UP


ENDS = ("held", "placed", "probed", "unstable")


def silent(twin: Twin, column: int) -> None:
    spoil(twin, lambda s: replace(s, q=np.where(np.arange(18) == column, np.nan, s.q)))


@pytest.mark.parametrize("leg", ["left-front", "left-middle"])
@pytest.mark.parametrize("after", [0.02, 0.1, 0.2])
def test_an_order_ends_with_one_event_when_a_joint_is_lost_midway(
    rook: Robot, leg: str, after: float
) -> None:
    """Column 3 is the left-middle coxa: the leg that was asked, or another."""
    twin = Twin(rook)
    twin.run(Command(), 5.0)
    order = Command(kind=Kind.LIFT, leg=leg)
    twin.run(order, after)
    silent(twin, 3)
    twin.events.clear()
    twin.run(order, 12.0)
    assert [(e.what, e.leg) for e in twin.events if e.what in ENDS] == [("unstable", leg)]
    assert next(e for e in twin.events if e.what == "unstable").limit == "joint lost"
    assert twin.controller.stage is Stage.DOWN


def test_every_order_after_a_loss_ends_with_an_event(walker: Twin) -> None:
    silent(walker, 3)
    walker.run(WALK, 3.0)
    for kind, leg in ((Kind.LIFT, "left-middle"), (Kind.PROBE, "right-rear")):
        walker.events.clear()
        walker.run(Command(kind=kind, leg=leg), 0.2)
        assert [(e.what, e.leg) for e in walker.events if e.what in ENDS] == [("unstable", leg)]


def test_an_order_that_has_ended_does_not_end_again_by_a_loss(rook: Robot) -> None:
    twin = Twin(rook)
    twin.run(Command(), 5.0)
    order = Command(kind=Kind.LIFT, leg="left-front")
    twin.run(order, 4.0)
    silent(twin, 3)
    twin.run(order, 1.0)
    assert [e.what for e in twin.events if e.what in ENDS] == ["held"]


def test_sitting_tells_what_ended_it() -> None:
    """It never blames the legs where time ended it, or something that holds the body up."""
    for fall, why in ((0.01, "still sinking"), (0.0, "sinks no farther")):
        sinking, height = Sinking(), 0.2
        while not sinking.over(height, height - 0.02, 0.01):
            height -= 0.01 * fall
        assert why in sinking.told(height)
    sinking = Sinking()
    assert sinking.over(0.05, 0.0, 0.01)
    assert "fold no farther" in sinking.told(0.02)
    assert "on the ground" in sinking.told(0.001)
