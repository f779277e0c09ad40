"""One leg at a time: lift, place, the others make way; a push is borne or cut down."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from twin import Twin

import legwright as lw
from legwright.locomotion.arrange import Spared, Stood, allowed_push, brace
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.signals import Event
from legwright.locomotion.stance import footing
from legwright.mechanics.balance import static_margin

ROOT = Path(__file__).parents[2]
FAMILY = ("robots/rook", "robots/wren", "robots/heron")
FOUR, EIGHT = "tests/data/wild/r104.urdf", "tests/data/wild/r101.urdf"
DOWN = np.array([0.0, 0.0, -1.0])


def standing(path: str, *, margin: float = 1.0) -> Twin:
    """A robot on its feet, with a required margin so many times its own."""
    twin = Twin(lw.load(ROOT / path))
    twin.run(Command(), 6.0)
    orders = twin.controller._orders
    orders.margin *= margin
    orders.steps.margin = orders.margin
    twin.events.clear()
    twin.least_margin, twin.worst_slip = np.inf, 0.0
    return twin


def told(twin: Twin, what: str) -> list[Event]:
    return [event for event in twin.events if event.what == what]


@pytest.mark.parametrize("path", [*FAMILY, FOUR, EIGHT])
def test_every_leg_lifts_and_the_others_keep_the_margin(path: str) -> None:
    """Referee: the margin of McGhee & Frank (1968), by the robot's own kinematics."""
    twin = standing(path)
    for index, leg in enumerate(twin.robot.legs):
        twin.run(Command(kind=Kind.LIFT, leg=leg), 5.0)
        held = told(twin, "held")
        assert held and held[-1].leg == leg, leg
        assert not twin.controller.contact[index]
        np.testing.assert_allclose(held[-1].position, twin.feet()[index], atol=2e-3)
    assert twin.least_margin >= twin.controller._orders.margin - 1e-3
    assert twin.worst_slip < 1e-4
    assert not told(twin, "unstable")


@pytest.mark.parametrize("path", [*FAMILY, FOUR])
def test_a_lifted_leg_goes_anywhere_in_its_room(path: str) -> None:
    twin = standing(path)
    fixed, leg = twin.controller.able.fixed, next(iter(twin.robot.legs))
    for angle in np.arange(6) * np.pi / 3:
        place = fixed.neutral[0, :2] + 0.95 * fixed.room[0] * np.array(
            [np.cos(angle), np.sin(angle)]
        )
        twin.run(Command(kind=Kind.LIFT, leg=leg), 2.5)
        twin.run(Command(kind=Kind.PLACE, leg=leg, target=(place[0], place[1])), 2.5)
        np.testing.assert_allclose(told(twin, "placed")[-1].place[:2], place, atol=1e-3)
    assert not any("beside" in event.text for event in told(twin, "limited"))


def test_a_place_out_of_reach_becomes_the_nearest_and_says_so() -> None:
    """Referee: no point of the ground on the way to the target that the leg reaches is nearer."""
    twin = standing("robots/rook")
    twin.run(Command(kind=Kind.PLACE, leg="right-middle", target=(0.0, -0.6)), 4.0)
    assert [event.limit for event in told(twin, "limited")] == ["reach"]
    x, y, _ = told(twin, "placed")[-1].place
    leg, height = twin.robot.legs["right-middle"], twin.controller.able.footing.height
    line = np.linspace(-0.2, -0.6, 401)
    ok = leg.reach(np.column_stack([0.0 * line, line, np.full_like(line, -height)])).ok
    rim = line[ok].min()
    assert rim - 1e-3 < y < rim + 0.03
    assert abs(x) < 0.02
    assert twin.worst_surge <= 1.001


ODD_PLACES = {
    1: ((0.182, 0.241), (-0.225, 0.232), (0.237, -0.240), (-0.300, -0.316)),
    2: ((0.205, 0.177), (-0.218, 0.200), (0.220, -0.258), (-0.278, -0.318)),
}
"""Places of four feet from which no shift alone spares the leg with a margin of 54 mm; drawn at
random."""


@pytest.mark.parametrize("leg", ODD_PLACES)
def test_others_step_aside_where_a_shift_is_not_enough(leg: int) -> None:
    twin = standing(FOUR, margin=0.05)
    legs = tuple(twin.robot.legs)
    for index in (3, 0, 1, 2):  # the heavy corner first, while the others stand well
        place = ODD_PLACES[leg][index]
        twin.run(Command(kind=Kind.PLACE, leg=legs[index], target=place), 6.0)
    twin.run(Command(), 3.0)
    orders = twin.controller._orders
    orders.margin = orders.steps.margin = need = 0.054
    stood = orders.steps.stood(twin.controller._goal, twin.controller._state)
    assert not brace(twin.robot, twin.controller.able, stood, Spared(leg), need).ok
    twin.events.clear()
    twin.least_margin = np.inf
    twin.run(Command(kind=Kind.LIFT, leg=legs[leg]), 25.0)
    assert [event.leg for event in told(twin, "arranging")] == [legs[leg]]
    assert told(twin, "held")[-1].leg == legs[leg]
    assert twin.least_margin >= need - 1e-3
    assert twin.worst_slip < 1e-4
    assert twin.worst_surge <= 1.001


def test_what_no_arrangement_allows_is_refused_with_the_best_margin() -> None:
    twin = standing(FOUR, margin=12.0)
    twin.run(Command(kind=Kind.LIFT, leg="left-front"), 6.0)
    refused = told(twin, "unstable")
    assert len(refused) == 1 and refused[0].limit == "margin"
    assert "at best" in refused[0].text
    assert twin.controller.contact.all()
    assert twin.worst_slip < 1e-4


@pytest.mark.parametrize("path", FAMILY)
def test_the_allowed_push_is_where_the_others_would_tip(path: str) -> None:
    """Referee: balance of moments; at the allowed push the rest of the weight acts on the rim."""
    robot = lw.load(ROOT / path)
    able, stand = Twin(robot).controller.able, footing(robot)
    posture = np.array([0.0, 0.0, stand.height, 0.0, 0.0, 0.0])
    stood = Stood(
        feet=able.fixed.neutral, posture=posture, com=np.zeros(2), carrying=tuple(range(6))
    )
    at = tuple(able.fixed.neutral[0, :2])
    spared = Spared(0, 5.0 * able.weight, at)
    push, found = allowed_push(robot, able, stood, spared, 0.01)
    assert 0.1 * able.weight < push < able.weight
    share = push / able.weight
    acts = (found.shift - share * np.array(at)) / (1.0 - share)
    others = np.array([leg != 0 for leg in range(6)])
    margin = static_margin(able.fixed.neutral, np.array([*acts, 0.0]), contact=others, gravity=DOWN)
    assert margin >= 0.01 - 1e-6
    assert not brace(robot, able, stood, spared._replace(push=1.1 * push), 0.01).ok


def test_a_step_from_a_low_body_rises_first_and_says_so() -> None:
    twin = standing("robots/rook")
    twin.run(Command(kind=Kind.PLACE, leg="left-front", height=0.03), 5.0)
    assert told(twin, "limited")[0].limit == "reach"
    assert told(twin, "placed")


def test_standing_takes_the_body_back_from_its_shift() -> None:
    twin = standing(FOUR)
    twin.run(Command(kind=Kind.LIFT, leg="left-front"), 5.0)
    assert np.hypot(*twin.controller.body[1][:2]) > 5e-3
    twin.run(Command(), 8.0)
    assert twin.controller.contact.all()
    np.testing.assert_allclose(twin.controller.body[1][:2], 0.0, atol=2e-3)


def test_weak_joints_do_not_jump_when_their_foot_comes_down() -> None:
    """The right-rear knee of this robot accelerates with a fourth of the others' 200 rad/s²: a
    swing that asks for more leaves the joint behind, and the foot must not stand before it came."""
    twin = standing("tests/data/wild/r106.urdf")
    twin.worst_surge = 0.0
    twin.run(Command(kind=Kind.LIFT, leg="right-rear"), 3.0)
    twin.run(Command(kind=Kind.PLACE, leg="right-rear"), 3.0)
    assert told(twin, "placed")
    assert twin.worst_surge <= 1.001


def test_a_foot_behind_its_path_stands_only_when_its_joints_have_come() -> None:
    """A swing that is believed to be easier than it is: joints fall behind and catch up."""
    twin = standing("tests/data/wild/r106.urdf")
    twin.controller.able.fixed.spry[:] = 1e3
    twin.worst_surge = twin.worst_slip = 0.0
    for leg in ("right-front", "right-rear"):
        twin.run(Command(kind=Kind.LIFT, leg=leg), 3.0)
        twin.run(Command(kind=Kind.PLACE, leg=leg), 3.0)
    assert len(told(twin, "placed")) == 2
    assert twin.worst_surge <= 1.001
    assert twin.worst_slip < 5e-4
