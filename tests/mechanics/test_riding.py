"""What rides on joints, placed by our kernel, against link by link and against the engine."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from legwright import load
from legwright.errors import RobotError
from legwright.mechanics.gauge import gauge_of
from legwright.mechanics.neighbours import random_poses
from legwright.mechanics.riding import hulls_of, riders
from legwright.mechanics.shapes import link_poses, lowest
from legwright.robot.mjcf import model_of

TOP = Path(__file__).parents[2]
WILD = sorted((TOP / "tests" / "data" / "wild").glob("*.urdf"))
ROBOTS = [*(TOP / "robots" / name for name in ("rook", "heron")), *WILD]


@pytest.mark.parametrize("path", ROBOTS, ids=lambda path: path.stem)
def test_lowest_points_are_those_of_every_shape(path):
    """Referee: each link's pose by 4 by 4 matrices, each shape's support function on its own."""
    robot = load(path)
    q = random_poses(robot, 5, seed=2)
    up = np.random.default_rng(3).normal(size=(5, 3))
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    poses, hulls = link_poses(robot, q), hulls_of(robot)
    assert hulls is not None
    shapes = [(name, one) for name, link in robot.tree.links.items() for one in link.shapes]
    theirs = np.array([np.broadcast_to(lowest(one, poses[name], up), 5) for name, one in shapes])
    assert hulls.links == tuple(name for name, _ in shapes)
    np.testing.assert_allclose(hulls.lowest(robot, q, up).T, theirs, atol=1e-12)


@pytest.mark.parametrize("path", ROBOTS, ids=lambda path: path.stem)
def test_shapes_lie_where_the_engine_puts_them(path):
    """Referee: MuJoCo's kinematics; distances between shapes, whatever the frame."""
    robot = load(path)
    gauge, q = gauge_of(robot), random_poses(load(path), 5, seed=4)
    assert gauge.riders is not None
    ours, theirs = gauge.placed(q), gauge.engine_placed(q)
    if len(gauge.link) < 2:
        return
    for one in (ours, theirs):
        assert one.centre.shape == (5, len(gauge.link), 3)
    np.testing.assert_allclose(
        np.linalg.norm(np.diff(ours.centre, axis=1), axis=2),
        np.linalg.norm(np.diff(theirs.centre, axis=1), axis=2), atol=1e-9,
    )  # fmt: skip
    body = theirs.body[:, 3:].reshape(5, 1, 3, 3)
    np.testing.assert_allclose(
        body @ ours.turn.reshape(5, -1, 3, 3), theirs.turn.reshape(5, -1, 3, 3), atol=1e-9
    )


@pytest.mark.parametrize("path", ROBOTS, ids=lambda path: path.stem)
def test_loose_shapes_are_those_of_the_whole_model(path):
    """Referee: the engine's model of the whole robot, compiled from its description."""
    robot = load(path)
    gauge, whole = gauge_of(robot), model_of(robot)
    names = [[model.geom(g).name for g in range(model.ngeom)] for model in (gauge.model, whole)]
    assert names[0] == names[1]
    assert gauge.link == tuple(name.rsplit("/", 1)[0] for name in names[1])
    for what in ("geom_type", "geom_size", "geom_aabb", "geom_rbound"):
        np.testing.assert_allclose(getattr(gauge.model, what), getattr(whole, what), atol=1e-15)
    groups = np.asarray(whole.body_weldid)
    np.testing.assert_array_equal(gauge.rigid, groups[whole.geom_bodyid])
    above = groups[whole.body_parentid[groups]]
    np.testing.assert_array_equal(gauge.parent[groups], above[groups])


def test_a_size_that_the_engine_refuses_is_told(tmp_path):
    text = (TOP / "robots" / "heron" / "heron.urdf").read_text(encoding="utf-8")
    flat = re.sub(r'<box size="[^"]*"', '<box size="0.1 0 0.1"', text)
    (tmp_path / "flat.urdf").write_text(flat, encoding="utf-8")
    robot = load(tmp_path / "flat.urdf")
    with pytest.raises(RobotError, match="size of 'trunk/0' must be positive"):
        gauge_of(robot)


def test_what_leaves_its_place_is_no_rider():
    robot = load(TOP / "robots" / "rook")
    poses = np.tile(np.eye(4), (1, 2, 1, 1))
    assert riders(robot, [-1], poses) is not None
    poses[0, 1, 0, 3] = 1e-6
    assert riders(robot, [-1], poses) is None
