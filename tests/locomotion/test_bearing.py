"""Load: feet that share it, feet that carry nothing, and the gate before a foot lifts."""

from __future__ import annotations

import numpy as np
import pytest

from legwright.locomotion import _state as at
from legwright.locomotion._bearing import NUMB, PATIENCE, STOOD, SURPLUS, borne, share_load
from legwright.locomotion._lifting import begin_swings
from legwright.locomotion.controller import Controller
from legwright.locomotion.planted import plant

H = 0.005
STIFF = 5000.0
"""Of a leg and its foot [N/m]."""


class Stance:
    """Rook on six feet; what each feels is given by hand or by springs."""

    def __init__(self, rook) -> None:
        self.controller = Controller(rook, rate=200.0, feel=True)
        able = self.controller.able
        self.weight = able.weight
        self.state, goal = self.controller._state, self.controller._goal
        plant(self.state, able, np.array(able.footing.q), float(able.footing.height))
        self.fixed, self.boxed_state, self.boxed_goal = self.controller._boxes
        goal.n[[at.FELT, at.WALKING, at.WEIGHT]] = 1.0, 1.0, self.weight
        goal.n[[at.DUTY, at.CYCLE, at.SWING_TIME, at.MARGIN]] = 0.8, 2.0, 0.4, 0.01
        goal.n[[at.LIFT, at.QUICK, at.PRESS, at.FALL_SPEED]] = 0.03, 0.5, 0.008, 0.04
        goal.n[at.STEP] = -1.0
        self.goal = goal
        self.over = np.array([*self.state.foot[:, :2].mean(axis=0), 0.1])

    def balance(self) -> np.ndarray:
        """Weight and moments as a matrix of forces, (3, 6)."""
        p = self.state.foot[:, :2] - self.over[:2]
        return np.vstack([np.ones(6), p.T])

    def springs(self, ground: np.ndarray) -> None:
        """Feel what a rigid body on springs feels over this ground, (6,) [m]."""
        A = self.balance()
        deep = STIFF * (ground - self.state.foot[:, 2])
        plane = np.linalg.solve(A @ A.T, [self.weight, 0.0, 0.0] - A @ deep)
        self.state.load[:] = deep + A.T @ plane

    def share(self, *, flying: bool = False) -> None:
        share_load(self.boxed_state, self.boxed_goal, self.over, flying, H)

    def lift(self, leg: int) -> bool:
        """Offer one turn to lift; whether it was taken."""
        self.goal.phases[:] = 0.5
        self.goal.phases[leg] = 0.1
        self.state.clock[[at.PHASE, at.RHO]] = 0.0, 1.0
        begin_swings(self.fixed, self.boxed_state, self.boxed_goal, self.over, False, H)
        return bool(self.state.mode[leg] == at.SWING)


@pytest.fixture
def stance(rook) -> Stance:
    return Stance(rook)


def test_feet_come_to_carry_their_least_squares_share(stance: Stance) -> None:
    """Referee: the forces of least norm that balance weight and moments, by pseudo-inverse."""
    ground = np.array([1.5, -1.0, 0.5, -1.5, 1.0, 0.0]) * 1e-3
    share = np.linalg.pinv(stance.balance()) @ [stance.weight, 0.0, 0.0]
    stance.springs(ground)
    assert np.abs(stance.state.load - share).max() > 4.0 * NUMB
    for _ in range(600):
        stance.springs(ground)
        stance.share()
    stance.springs(ground)
    assert np.abs(stance.state.load - share).max() < 1.3 * NUMB
    assert abs(stance.state.pressed.mean()) < 5e-4, "the body keeps its height"


def test_what_all_feet_feel_too_little_moves_none(stance: Stance) -> None:
    stance.state.load[:] = np.linalg.pinv(stance.balance()) @ [stance.weight, 0.0, 0.0] - 2.0
    before = stance.state.foot.copy()
    for _ in range(100):
        stance.share()
    np.testing.assert_array_equal(stance.state.foot, before)


def test_a_probing_push_is_not_shared_out(stance: Stance) -> None:
    stance.goal.n[at.PROBING] = 1.0
    stance.state.load[:] = 0.0, 20.0, 0.0, 0.0, 20.0, 0.0
    before = stance.state.foot.copy()
    stance.share()
    np.testing.assert_array_equal(stance.state.foot, before)


def test_a_foot_that_finds_nothing_to_stand_on_is_doubted(stance: Stance) -> None:
    state, state.load[:] = stance.state, stance.weight / 5.0
    state.load[2], state.since[:] = 0.0, STOOD + 0.1
    while state.pressed[2] < stance.goal.n[at.PRESS]:
        assert state.mode[2] == at.STAND
        stance.share(flying=True)
    stance.share(flying=True)
    assert state.mode[2] == at.STAND, "one foot in the air at a time"
    stance.share()
    assert state.mode[2] == at.DOUBT and state.flags[2] == 0
    assert (np.delete(state.mode, 2) == at.STAND).all()
    assert stance.controller.contact.all(), "until it is shown that nothing is there"


def test_a_foot_is_not_doubted_soon_nor_where_any_joint_bears(stance: Stance) -> None:
    state, state.load[:] = stance.state, stance.weight / 5.0
    state.load[2], state.pressed[2] = 0.0, stance.goal.n[at.PRESS]
    for stood, surplus, mode in (
        (STOOD - 0.1, 0.0, at.STAND),
        (STOOD + 0.1, SURPLUS + 0.1, at.STAND),
        (STOOD + 0.1, SURPLUS - 0.1, at.DOUBT),
    ):
        state.since[:], state.surplus[2] = stood, surplus
        stance.share()
        assert state.mode[2] == mode


def test_no_foot_feels_on_in_the_step_in_which_another_lifts(stance: Stance) -> None:
    """Else the margin would be that without both: seen as 3 mm instead of 80."""
    state, state.load[:] = stance.state, stance.weight / 5.0
    state.load[2], state.pressed[2] = 0.0, stance.goal.n[at.PRESS]
    state.mode[1], state.since[:] = at.SWING, STOOD + 0.1
    stance.share(flying=False)
    assert state.mode[2] == at.STAND
    state.mode[1] = at.STAND
    stance.share(flying=False)
    assert state.mode[2] == at.DOUBT


def test_a_foot_that_carries_a_little_stays(stance: Stance) -> None:
    stance.state.load[:] = stance.weight / 5.0
    stance.state.load[2], stance.state.since[:] = 0.08 * stance.weight, STOOD + 0.1
    for _ in range(600):
        stance.share()
    assert stance.state.mode[2] == at.STAND
    assert stance.state.pressed[2] == pytest.approx(stance.goal.n[at.PRESS])


def test_three_feet_about_the_weight_must_carry(stance: Stance) -> None:
    legs, state = np.ones(6, dtype=bool), stance.state

    def carried(*share: float) -> bool:
        state.load[:] = np.array(share) * stance.weight
        return bool(borne(stance.boxed_state, stance.boxed_goal, legs, stance.over))

    assert carried(*np.full(6, 1.0 / 6.0))
    assert not carried(0.5, 0.0, 0.0, 0.0, 0.0, 0.5)
    left = [k for k in range(6) if state.foot[k, 1] > 0.0]
    aside = np.zeros(6)
    aside[left] = 1.0 / 3.0
    assert not carried(*aside), "the centre of mass is not among them"


def test_a_foot_waits_for_others_to_carry_but_not_for_ever(stance: Stance) -> None:
    heavy = np.zeros(6)
    heavy[[0, 5]] = 0.5 * stance.weight
    stance.state.load[:] = heavy
    leg, waited = 1, 0.0
    while not stance.lift(leg):
        waited += H
        assert waited < 2.0 * PATIENCE
    assert waited == pytest.approx(PATIENCE, abs=2.0 * H)


def test_a_foot_lifts_at_once_where_the_others_carry(stance: Stance) -> None:
    stance.state.load[:] = stance.weight / 6.0
    assert stance.lift(1)
