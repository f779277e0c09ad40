"""Poses at rest, slopes, quaternions."""

from __future__ import annotations

import numpy as np
import pytest
from bare_walkers import stance, walker
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from legwright.mechanics.pose import (
    GRAVITY,
    gravity_on,
    ground_under,
    quaternion,
    quaternions,
    rotations,
    still,
    upward,
)

ROBOT = walker()


@given(st.tuples(*[st.floats(-1, 1)] * 4).filter(lambda w: np.linalg.norm(w) > 0.1))
def test_quaternions_agree_with_scipy(raw):
    """Referee: scipy's Rotation, scalar first."""
    w = np.array(raw) / np.linalg.norm(raw)
    R = rotations(w)
    np.testing.assert_allclose(R, Rotation.from_quat(w, scalar_first=True).as_matrix(), atol=1e-12)
    back = quaternion(R)
    assert back[0] >= 0.0
    np.testing.assert_allclose(rotations(back), R, atol=1e-12)


@pytest.mark.parametrize("axis", np.eye(3))
def test_half_turns_have_quaternions(axis):
    R = 2 * np.outer(axis, axis) - np.eye(3)
    np.testing.assert_allclose(rotations(quaternion(R)), R, atol=1e-12)


def test_many_rotations_are_as_one_after_the_other():
    turned = Rotation.random(60, random_state=3).as_matrix()
    half = np.array([2 * np.outer(axis, axis) - np.eye(3) for axis in np.eye(3)])
    every = np.concatenate([turned, half])
    found = quaternions(every)
    np.testing.assert_array_equal(found, [quaternion(each) for each in every])
    np.testing.assert_array_equal(quaternions(every[:2]), found[:2])
    np.testing.assert_allclose(upward(found), every[:, 2], atol=1e-12)


def test_gravity_leans_downhill():
    np.testing.assert_allclose(gravity_on(), [0, 0, -GRAVITY])
    uphill = gravity_on(0.3)
    assert uphill[0] < 0 and uphill[1] == 0
    assert np.linalg.norm(gravity_on(0.3, 1.1)) == pytest.approx(GRAVITY)
    assert gravity_on(0.3, np.pi / 2)[1] == pytest.approx(-GRAVITY * np.sin(0.3))


def test_stance_feet_lie_on_the_ground():
    motion = still(ROBOT, stance(ROBOT))
    R, p = rotations(motion.body[0, 3:]), motion.body[0, :3]
    on_ground = motion.feet[0] @ R.T + p
    np.testing.assert_allclose(on_ground[:, 2], 0.0, atol=1e-12)
    np.testing.assert_allclose(R, np.eye(3), atol=1e-12)


def test_a_leaning_body_stands_on_level_ground():
    """Referee: the feet of a leaning body, made by turning the level ones."""
    lean = Rotation.from_euler("xyz", [0.1, -0.2, 0.0]).as_matrix()
    level = still(ROBOT, stance(ROBOT)).feet[0]
    R, p = ground_under(level @ lean, np.ones(6))
    np.testing.assert_allclose((level @ lean @ R.T + p)[:, 2], 0.0, atol=1e-12)
    assert R[0, 0] > 0.9 and R[1, 0] == pytest.approx(0.0, abs=1e-12)  # x along the heading


@pytest.mark.parametrize("count", [0, 1, 2])
def test_few_feet_leave_the_body_level(count):
    feet = still(ROBOT, stance(ROBOT)).feet[0].copy()
    feet[:, 2] += np.linspace(0, 0.02, 6)
    contact = np.arange(6) < count
    R, p = ground_under(feet, contact)
    if count:
        np.testing.assert_allclose(R, np.eye(3), atol=1e-12)
    assert p[2] > 0.0


def test_each_pose_of_a_sequence_stands_on_its_own():
    q = np.stack([stance(ROBOT), stance(ROBOT) + np.tile([0, 0.2, -0.2], 6)])
    contact = np.array([[True] * 6, [True, False] * 3])
    motion = still(ROBOT, q, contact)
    for t in range(2):
        alone = still(ROBOT, q[t], contact[t])
        np.testing.assert_array_equal(motion.body[t], alone.body[0])
        np.testing.assert_array_equal(motion.feet[t], alone.feet[0])
    assert motion.ok
