"""A foot that runs into something stops, backs off and goes over it."""

from __future__ import annotations

import numpy as np
import pytest

from legwright.locomotion import _state as at
from legwright.locomotion._bump import BACK_OFF, LATENCY, TRAILS, heed_bumps
from legwright.locomotion._swings import fly
from legwright.locomotion.controller import Controller
from legwright.locomotion.planted import plant

H = 0.005
SPEED = 0.2


class Flight:
    """The left front foot of rook in mid-swing, forward."""

    def __init__(self, rook) -> None:
        controller = Controller(rook, rate=200.0, feel=True)
        able = controller.able
        self.length = able.leg_length
        self.state, goal = controller._state, controller._goal
        plant(self.state, able, np.array(able.footing.q), float(able.footing.height))
        goal.n[[at.FELT, at.WALKING, at.STEP, at.SWING_TIME]] = 1.0, 1.0, -1.0, 0.45
        goal.n[[at.LIFT, at.RAISE, at.QUICK, at.FALL_SPEED]] = able.lift, able.lift, 0.6, 0.04
        self.raised = able.lift
        self.fixed, self.boxed_state, self.boxed_goal = controller._boxes
        state = self.state
        state.mode[0], state.since[0], state.left[0], state.rise[0] = at.SWING, 0.2, 0.3, 0.1
        state.foot[0, 2] += 0.03
        state.top[0] = state.foot[0, 2] + 0.01
        state.foot_v[0] = SPEED, 0.0, 0.1
        state.aim[0] = state.foot[0] + (0.05, 0.0, -0.03)
        chain = rook.legs["left-front"]
        self.columns = rook.columns["left-front"]
        self.asked = np.array(able.footing.q)
        self.jacobian = chain.jacobian(self.asked[self.columns])

    def trails(self, ahead: float, aside: float = 0.0) -> bool:
        """Measure the foot so far behind where it was sent [m]; whether that is a bump."""
        q = self.asked.copy()
        q[self.columns] -= np.linalg.solve(self.jacobian, (ahead, aside, 0.0))
        heed_bumps(self.fixed, self.boxed_state, q, self.asked, self.length)
        return bool(self.state.bump[0] != 0.0)

    def fly(self) -> None:
        self.state.flags[:] = 0
        fly(self.fixed, self.boxed_state, self.boxed_goal, 0, False, H)


@pytest.fixture
def flight(rook) -> Flight:
    return Flight(rook)


def test_servo_lag_and_what_lies_across_the_way_are_no_bumps(flight: Flight) -> None:
    usual = TRAILS * flight.length + LATENCY * SPEED
    assert not flight.trails(0.9 * usual)
    assert not flight.trails(0.0, 2.0 * usual)
    assert not flight.trails(-2.0 * usual)
    flight.state.since[0] = 0.02
    assert not flight.trails(2.0 * usual), "it still comes free of the ground"
    flight.state.since[0] = 0.2
    flight.state.mode[0] = at.FALL
    assert not flight.trails(2.0 * usual), "straight down"
    flight.state.mode[0] = at.SWING
    assert flight.trails(1.1 * usual)


def test_it_backs_off_rises_and_only_then_goes_on(flight: Flight) -> None:
    state, start = flight.state, flight.state.foot[0].copy()
    assert flight.trails(0.006)
    beyond, speeds = 0.0, [SPEED]
    flight.fly()
    assert state.flags[0] & at.STUMBLED
    while state.bump[0] > 0.0:
        beyond = max(beyond, state.foot[0, 0] - start[0])
        speeds.append(state.foot_v[0, 0])
        flight.fly()
        assert not state.flags[0] & at.STUMBLED, "told once"
    assert beyond < 0.006, "it stops on its way of a few millimetres"
    assert start[0] - state.foot[0, 0] > BACK_OFF * flight.length
    assert abs(state.foot_v[0, 0]) < 1e-6 and np.abs(np.diff(speeds)).max() < 10.0 * H
    state.aim[0] = start + np.array([0.05, 0.0, -0.03])
    while state.foot[0, 0] < start[0]:
        flight.fly()
        assert state.mode[0] == at.SWING
    assert state.foot[0, 2] > start[2] + 0.7 * flight.raised


def test_it_gives_up_after_three(flight: Flight) -> None:
    flight.state.tries[0] = 3.0
    assert not flight.trails(0.05)
