"""Referee: the legs' own kinematics, and geometry that can be said in one line."""

from __future__ import annotations

import numpy as np
import pytest
import scene

from legwright.mechanics.solids import solid_of
from legwright.robot.tree import Shape, ShapeKind
from legwright.views import projection
from legwright.views.projection import ISOMETRIC, PLAN, SIDE, link_poses


def test_link_poses_put_the_feet_where_kinematics_puts_them():
    robot = scene.robot()
    rng = np.random.default_rng(5)
    for _ in range(20):
        q = np.concatenate([rng.uniform(leg.lower, leg.upper) for leg in robot.legs.values()])
        poses = link_poses(robot, q)
        for leg in robot.legs.values():
            pose = poses[leg.chain.link_names[-1]]
            foot = pose[:3, :3] @ leg.chain.foot + pose[:3, 3]
            np.testing.assert_allclose(foot, leg.foot(q[robot.columns[leg.name]]), atol=1e-9)


def test_plan_has_the_nose_up_and_left_on_the_left():
    assert PLAN.flat(np.array([1.0, 0.0, 0.0])).tolist() == [0.0, -1.0]
    assert PLAN.flat(np.array([0.0, 1.0, 0.0])).tolist() == [-1.0, 0.0]


def test_side_has_up_on_top_and_the_nose_to_the_left():
    assert SIDE.flat(np.array([1.0, 0.0, 0.5])).tolist() == [-1.0, -0.5]


@pytest.mark.parametrize("view", [PLAN, SIDE, ISOMETRIC])
def test_a_view_is_a_right_handed_frame(view):
    rows = np.array([view.right, view.down, -view.near])
    np.testing.assert_allclose(rows @ rows.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(rows) == pytest.approx(1.0)


def test_a_cube_seen_isometric_shows_three_faces():
    cube = Shape(kind=ShapeKind.BOX, size=(1.0, 1.0, 1.0), placement=np.eye(4))
    points, faces = solid_of(cube)
    seen = projection._outline("cube", points, faces, ISOMETRIC)
    assert len(seen.edges) == 3 and len(seen.hull) == 6


@pytest.mark.parametrize("view", [PLAN, SIDE, ISOMETRIC])
def test_a_ball_is_round_from_everywhere(view):
    ball = Shape(kind=ShapeKind.SPHERE, size=(0.4,), placement=np.eye(4))
    points, faces = solid_of(ball)
    hull = np.array(projection._outline("ball", points, faces, view).hull)
    assert np.linalg.norm(hull, axis=1) == pytest.approx(0.4, rel=0.03)
