"""Ground that a foot meets in its swing: heard by all joints of the leg, and met once more."""

from __future__ import annotations

import numpy as np
import pytest

from legwright.locomotion import _state as at
from legwright.locomotion._state import State
from legwright.locomotion._step import step
from legwright.locomotion._swings import TEST, fly
from legwright.locomotion.contact import Contact
from legwright.locomotion.controller import Controller
from legwright.locomotion.planted import plant
from legwright.locomotion.signals import Sensed
from legwright.mechanics.drive import drives_of
from legwright.mechanics.loads import standing
from legwright.robot.robot import Robot

H = 0.005


class Swing:
    """The left front foot of rook on its way down from a swing."""

    def __init__(self, rook: Robot, sink: float = 0.15) -> None:
        self.robot = rook
        controller = self.controller = Controller(rook, rate=200.0, feel=True)
        self.able, self.state, self.goal = controller.able, controller._state, controller._goal
        self.q = np.array(self.able.footing.q)
        plant(self.state, self.able, self.q, float(self.able.footing.height))
        self.state.q[:] = self.q
        n = self.goal.n
        n[[at.FELT, at.WALKING, at.SOFTLY, at.STEP]] = 1.0, 1.0, 1.0, -1.0
        n[at.SWING_TIME], n[at.LIFT], n[at.RAISE], n[at.QUICK] = 0.45, 0.028, 0.028, 0.6
        n[at.FALL_SPEED], n[at.APPROACH], n[at.DEEPEST] = 0.04, 0.008, 0.06
        self.boxes = controller._boxes
        state = self.state
        state.mode[0], state.since[0], state.left[0], state.rise[0] = at.SWING, 0.3, 0.2, 0.0
        state.foot[0, 2] += 0.03
        state.foot_v[0] = 0.1, 0.0, -sink
        state.aim[0] = state.foot[0] + (0.02, 0.0, -0.03)
        self.observer = Contact(rook, self.able)

    def hears(self, force: tuple[float, float, float], steps: int = 6) -> bool:
        """Whether a force of the ground on the foot is heard; torques by `mechanics.loads`."""
        contact = np.zeros(6, dtype=bool)
        torque = standing(self.robot, self.q, contact=contact, push=("left-front", force)).torque[0]
        current = torque / drives_of(self.robot).torque_constant
        sensed = Sensed(q=self.q, qd=0 * self.q, current=current, voltage=11.0)
        heard = False
        for _ in range(steps):
            self.observer.update(*self.boxes[:2], sensed, H)
            heard |= bool(self.observer.touch[0])
        return heard

    def doubted(self) -> State:
        """The foot stands, pressed down as far as it goes, and is doubted."""
        state = self.state
        state.mode[0], state.since[0], state.pressed[0] = at.DOUBT, 0.0, 0.008
        state.foot_v[0] = state.foot_a[0] = 0.0
        state.aim[0] = state.foot[0]
        return state

    def fly(self, touch: bool = False) -> None:
        self.state.flags[:] = 0
        fly(*self.boxes, 0, touch, H)


def test_all_joints_tell_a_push_upward_from_a_pull_backward(rook: Robot) -> None:
    weight = Swing(rook).able.weight
    assert not Swing(rook).hears((0.0, 0.0, 0.0))
    assert Swing(rook).hears((0.0, 0.0, 0.4 * weight))
    assert Swing(rook).hears((-0.6 * weight, 0.0, 0.4 * weight)), "also from a riser's edge"
    assert not Swing(rook).hears((-0.9 * weight, 0.0, 0.0)), "a riser alone lifts nothing"
    assert not Swing(rook).hears((0.9 * weight, 0.0, 0.0))


@pytest.mark.parametrize("sink", [0.04, 0.08, 0.15, 0.25])
def test_what_is_met_fast_is_left_and_felt_for_again(rook: Robot, sink: float) -> None:
    swing = Swing(rook, sink)
    state, met = swing.state, float(swing.state.foot[0, 2])
    swing.fly(touch=True)
    assert state.mode[0] == at.BACK and not state.flags[0] & at.TOUCHED
    deepest, steps = met, 0
    while state.mode[0] == at.BACK:
        swing.fly(touch=True)  # it still stands on what it met
        deepest = min(deepest, float(state.foot[0, 2]))
        steps += 1
        assert steps < 200
    assert met - deepest < 0.01, "it turns at once"
    assert state.foot[0, 2] > met + 0.006, "clear of the ground, to take a zero"
    while state.foot[0, 2] > met:
        assert state.mode[0] == at.FALL
        swing.fly()
        assert state.foot_v[0, 2] > -0.045
    swing.fly(touch=True)
    assert state.mode[0] == at.LAND and state.flags[0] & at.TOUCHED


def test_a_soft_touch_and_a_robot_in_need_stand_at_once(rook: Robot) -> None:
    soft = Swing(rook, sink=0.015)  # slower than half a descent
    soft.fly(touch=True)
    assert soft.state.mode[0] == at.LAND
    needy = Swing(rook)
    needy.goal.n[at.SOFTLY] = 0.0  # a joint is lost, or it sits down
    needy.fly(touch=True)
    assert needy.state.mode[0] == at.LAND


def test_a_foot_in_doubt_that_is_felt_to_stand_was_never_away(rook: Robot) -> None:
    """No touch-down is told, and it does not draw back, however early it was felt."""
    swing = Swing(rook)
    state, stood = swing.doubted(), float(swing.state.foot[0, 2])
    for _ in range(15):
        swing.fly()
        assert state.mode[0] == at.DOUBT and swing.controller.contact[0]
    state.bump[0] = -1.0  # before it had a zero of its own
    swing.fly(touch=True)
    assert state.mode[0] == at.LAND and state.flags[0] == 0 and state.bump[0] == 0.0
    assert 0.001 < stood - state.foot[0, 2] < 0.004
    assert state.pressed[0] > 0.0, "pressed down as far as it goes already"


def test_a_foot_in_doubt_with_nothing_under_it_feels_on(rook: Robot) -> None:
    swing = Swing(rook)
    state, steps = swing.doubted(), 0
    while state.mode[0] == at.DOUBT:
        swing.fly()
        steps += 1
        assert steps < 60
    assert steps * H == pytest.approx(TEST, abs=0.02)
    assert state.mode[0] == at.FALL and state.flags[0] == at.UNBORNE
    assert state.pressed[0] == 0.0 and not swing.controller.contact[0]


def test_what_is_met_above_the_legs_reach_is_left_from_where_the_leg_is(rook: Robot) -> None:
    """A foot sent up over obstacles, higher than it gets, is not looked for up there."""
    swing = Swing(rook)
    state = swing.state
    swing.goal.n[[at.CYCLE, at.DUTY]] = 1.5, 2.0 / 3.0
    really = float(state.foot[0, 2]) - 0.03  # where the joints have it
    state.foot[0, 2], state.miss[0] = really + 0.3, 0.2
    swing.controller.felt.touch[0] = True
    none = np.zeros(len(swing.q))
    step(swing.controller._whole, swing.q, none, np.zeros(3), np.zeros(3), 0, H, H)
    assert state.mode[0] == at.BACK
    assert abs(state.foot[0, 2] - really) < 0.02
    assert abs(state.aim[0, 2] - really) < 0.03


def test_a_foot_over_its_legs_reach_goes_down_before_it_is_looked_for(rook: Robot) -> None:
    """Out of reach over the expected ground is too high; below it, it is too low."""
    for over, expected in ((0.01, at.FALL), (-0.01, at.BACK)):
        swing = Swing(rook)
        state = swing.state
        state.mode[0], state.miss[0], state.foot_v[0] = at.FALL, 5e-3, (0.0, 0.0, -0.04)
        state.aim[0, 2] = state.foot[0, 2] - over
        swing.fly()
        assert state.mode[0] == expected


def test_feet_that_are_jolted_hear_less(rook: Robot) -> None:
    """Standing feet pushed out of place at 0.1 m/s: the body tips."""
    felt = {}
    for jolted in (False, True):
        swing = Swing(rook)
        state, q = swing.state, swing.q
        state.mode[0], state.since[0] = at.FALL, 0.0
        lever = rook.legs["left-front"].jacobian(q[rook.columns["left-front"]])[2]
        femur = int(np.abs(lever).argmax())
        state.qd[:] = 0.0
        state.qd[femur] = -0.04 / lever[femur]  # it goes down
        contact = np.zeros(6, dtype=bool)
        names = [name for name in rook.legs if name != "left-front"]
        arms = {name: rook.legs[name].jacobian(q[rook.columns[name]])[2] for name in names}
        for count in range(60):
            push = 2.0 if count >= 50 else 0.0
            torque = standing(rook, q, contact=contact, push=("left-front", (0, 0, push))).torque[0]
            moved = q.copy()
            if jolted and count >= 45:
                for name in names:  # all standing feet rise at 0.1 m/s
                    span, arm = rook.columns[name], arms[name]
                    moved[span] += 0.1 * H * (count - 44) * arm / (arm @ arm)
            sensed = Sensed(
                q=moved, qd=0 * q, current=torque / drives_of(rook).torque_constant, voltage=11.0
            )
            state.since[0] += H
            swing.observer.update(*swing.boxes[:2], sensed, H)
            felt[jolted] = felt.get(jolted, False) or bool(swing.observer.touch[0])
    assert felt == {False: True, True: False}
