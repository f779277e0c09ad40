"""Heading by the turn rate, against a body that is turned by what no controller knows."""

from __future__ import annotations

import numpy as np
import pytest

from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose, drive_twist
from legwright.locomotion._boxed import boxed
from legwright.locomotion._heading import BACK, LONGEST, heed_spin, steer
from legwright.locomotion._state import Goal, blank

DT = 0.01
UP = np.array([0.0, 0.0, 1.0])
SPEED = 0.05


class Slipping:
    """A walker whose feet slip: the world turns it beside what it believes."""

    def __init__(self, *, bias: float = 0.0, heeds: bool = True) -> None:
        self.bias, self.heeds = bias, heeds
        self.state = blank(6, 18)
        self.state.clock[at.SIGMA] = 1.0
        self.goal = Goal(np.zeros(3), np.zeros(6), np.zeros(6), np.zeros(at.GOALS))
        self.boxes = boxed(self.state), boxed(self.goal)
        self.yaw = self.x = self.y = 0.0

    def stand(self, seconds: float) -> None:
        self.state.mode[:] = at.STAND
        self._go(seconds, 0.0)

    def walk(self, seconds: float, turned: float, *, turn: float = 0.0) -> None:
        """Walk on while the world turns it by so much a second [rad/s]."""
        self.goal.n[at.WALKING] = 1.0
        self.goal.twist[:] = SPEED, 0.0, turn
        self.state.mode[0] = at.SWING
        self._go(seconds, turned)

    def _go(self, seconds: float, turned: float) -> None:
        state, (boxes, goal) = self.state, self.boxes
        for _ in range(round(seconds / DT)):
            before = state.place.copy()
            drive_twist(boxes, goal, 1.0, DT)
            steer(boxes, goal, before, 1.0, DT)
            step, yaw = state.place - before, before[2]
            ahead = np.cos(yaw) * step[0] + np.sin(yaw) * step[1]
            aside = np.cos(yaw) * step[1] - np.sin(yaw) * step[0]
            self.x += np.cos(self.yaw) * ahead - np.sin(self.yaw) * aside
            self.y += np.sin(self.yaw) * ahead + np.cos(self.yaw) * aside
            rate = step[2] / DT + turned
            self.yaw += rate * DT
            if self.heeds:
                heed_spin(boxes, np.array([0.0, 0.0, rate + self.bias]), UP, DT)


def test_a_disturbed_yaw_is_held() -> None:
    """A constant disturbance d leaves a heading error of d / BACK: a first-order loop."""
    disturbed = 0.03
    walker = Slipping()
    walker.walk(40.0, disturbed)
    assert walker.yaw == pytest.approx(disturbed / BACK, rel=0.1)
    blind = Slipping(heeds=False)
    blind.walk(40.0, disturbed)
    assert blind.yaw == pytest.approx(40.0 * disturbed, rel=0.01)


def test_it_comes_back_to_the_track_after_a_twist() -> None:
    walker = Slipping()
    walker.walk(2.0, 0.15)
    assert walker.yaw > 0.1
    walker.walk(30.0, 0.0)
    assert abs(walker.yaw) < 0.005 and abs(walker.y) < 0.003
    assert walker.x > 0.9 * SPEED * 32.0


def test_an_asked_turn_is_no_disturbance() -> None:
    walker = Slipping()
    walker.walk(10.0, 0.0, turn=0.1)
    assert walker.yaw == pytest.approx(10.0 * 0.1, rel=0.03)
    assert walker.state.place[2] == pytest.approx(walker.yaw, abs=1e-3)


def test_the_sensors_constant_error_is_learnt_while_it_stands() -> None:
    walker = Slipping(bias=0.05)
    walker.stand(LONGEST)
    walker.walk(30.0, 0.0)
    assert abs(walker.yaw) < 0.01
    unlearnt = Slipping(bias=0.05)
    unlearnt.walk(30.0, 0.0)
    assert abs(unlearnt.yaw) > 0.05


def test_keeping_level_is_no_turn_and_does_not_keep_it_from_learning() -> None:
    """A robot that stands follows its sensor's noise in roll and pitch, at some 4 mrad/s."""
    rng, walker = np.random.default_rng(2), Slipping()
    walker.state.mode[:] = at.STAND
    walker.state.posture_v[3:5] = 4e-3, -3e-3
    for _ in range(150):
        reading = np.array([0.0, 0.0, 0.004 + 0.0017 * rng.standard_normal()])
        heed_spin(walker.boxes[0], reading, UP, DT)
    assert walker.state.clock[at.BIAS] == pytest.approx(0.004, abs=5e-4)
    walker.state.posture_v[5] = 0.1  # a pose that turns the body is one
    heed_spin(walker.boxes[0], np.array([0.0, 0.0, 0.1]), UP, DT)
    assert walker.state.clock[at.BIAS] == pytest.approx(0.004, abs=5e-4)


def test_body_and_feet_turn_together_so_that_no_joint_moves() -> None:
    walker = Slipping()
    state = walker.state
    state.mode[0] = at.SWING
    state.posture[:] = 0.01, -0.02, 0.1, 0.05, -0.03, 0.02
    state.foot[:] = np.random.default_rng(4).normal(size=(6, 3))
    seen = in_body(state)
    heed_spin(walker.boxes[0], np.array([0.0, 0.0, 0.8]), UP, 0.1)
    assert state.place[2] == pytest.approx(0.08)
    np.testing.assert_allclose(in_body(state), seen, atol=1e-12)


def in_body(state) -> np.ndarray:
    R, b = np.empty((3, 3)), np.empty(3)
    body_pose(state, R, b)
    return (state.foot - b) @ R
