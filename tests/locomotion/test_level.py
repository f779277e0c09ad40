"""Without an inertial sensor the ground is taken to be level in the long run."""

from __future__ import annotations

import numpy as np

from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose
from legwright.locomotion._terrain import LEVEL_TIME, survey, trust_ground
from legwright.locomotion.controller import Controller
from legwright.locomotion.planted import plant
from legwright.robot.robot import Robot

DT = 0.02
AHEAD, ASIDE = 0.15, -0.08
"""Believed slopes."""


def _seen(state) -> np.ndarray:
    """The feet as the body sees them, (L, 3)."""
    R, b = np.empty((3, 3)), np.empty(3)
    body_pose(state, R, b)
    return np.asarray((state.foot - b) @ R)


def test_a_believed_slope_fades_and_no_joint_moves(wren: Robot) -> None:
    controller = Controller(wren, rate=100.0, feel=True)
    able, state = controller.able, controller._state
    plant(state, able, np.array(able.footing.q), float(able.footing.height))
    state.mode[:] = at.STAND
    state.foot[:, 2] += AHEAD * state.foot[:, 0] + ASIDE * state.foot[:, 1]
    state.relief[1], state.relief[2] = AHEAD, ASIDE
    before, pitch, roll = _seen(state), state.posture[4], state.posture[3]
    _, box, _ = controller._boxes
    for _ in range(round(6.0 * LEVEL_TIME / DT)):
        trust_ground(box, DT)
        survey(box, DT)
    np.testing.assert_allclose(_seen(state), before, atol=1e-9)
    flat = np.linalg.lstsq(np.column_stack([state.foot[:, :2], np.ones(6)]), state.foot[:, 2])[0]
    assert np.abs(flat[:2]).max() < 0.004, "the feet stand on level ground"
    assert np.abs(state.relief[1:3]).max() < 0.004
    # ground that rises ahead was a body that hung its nose; left side low, one that leant right
    np.testing.assert_allclose(state.posture[4] - pitch, np.arctan(AHEAD), atol=0.006)
    np.testing.assert_allclose(state.posture[3] - roll, -np.arctan(ASIDE), atol=0.006)
