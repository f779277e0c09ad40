"""Heights over the ground against hand measures, Pinocchio and sampled surfaces."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pinocchio as pin
import pytest
import trimesh
from square_walker import FOOT_RADIUS, walker

from legwright.mechanics.ground import lowest_trunk_point
from legwright.mechanics.ground_clearance import ground_clearance
from legwright.mechanics.neighbours import random_poses
from legwright.mechanics.pose import still
from legwright.mechanics.shapes import link_poses, lowest
from legwright.robot.loading import load
from legwright.robot.tree import Shape, ShapeKind

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))


@pytest.mark.parametrize("path", WILD, ids=lambda p: p.stem)
def test_link_poses_against_pinocchio(path):
    """Referee: Pinocchio's frame placements, seen from the body link."""
    robot = load(path, solver=lambda chain: None)
    model = pin.buildModelFromUrdf(str(path))
    data = model.createData()
    poses = random_poses(robot, 5, seed=3)
    ours = link_poses(robot, poses)
    for t, q in enumerate(poses):
        full = pin.neutral(model)
        for name, value in zip(robot.joint_names, q, strict=True):
            at = model.joints[model.getJointId(name)]
            full[at.idx_q : at.idx_q + at.nq] = (
                value if at.nq == 1 else (np.cos(value), np.sin(value))
            )
        pin.framesForwardKinematics(model, data, full)
        body = data.oMf[model.getFrameId(robot.body)]
        for name, pose in ours.items():
            want = (body.inverse() * data.oMf[model.getFrameId(name)]).homogeneous
            got = pose if pose.ndim == 2 else pose[t]
            np.testing.assert_allclose(got, want, atol=1e-9)


@pytest.mark.parametrize(
    ("kind", "size", "body"),
    [
        (ShapeKind.BOX, (0.3, 0.2, 0.05), trimesh.creation.box((0.3, 0.2, 0.05))),
        (ShapeKind.SPHERE, (0.07,), trimesh.creation.icosphere(5, 0.07)),
        (ShapeKind.CYLINDER, (0.04, 0.3), trimesh.creation.cylinder(0.04, 0.3, sections=2000)),
    ],
    ids=lambda x: getattr(x, "value", ""),
)
def test_lowest_point_against_a_surface(kind, size, body):
    """Referee: the lowest corner of a fine mesh of the same shape (trimesh)."""
    rng = np.random.default_rng(6)
    for _ in range(20):
        placement, pose = (
            trimesh.transformations.random_rotation_matrix(rng.random(3)) for _ in range(2)
        )
        placement[:3, 3], pose[:3, 3] = rng.normal(size=(2, 3))
        up = rng.normal(size=3)
        up /= np.linalg.norm(up)
        corners = trimesh.transform_points(body.vertices, pose @ placement)
        ours = lowest(Shape(kind=kind, size=size, placement=placement), pose, up)
        assert float(ours) == pytest.approx(float((corners @ up).min()), abs=2e-5)


def test_lowest_point_of_a_mesh(tmp_path):
    """A mesh file, scaled: its lowest corner."""
    body = trimesh.creation.icosphere(2, 1.0)
    body.export(tmp_path / "ball.stl")
    ball = Shape(
        kind=ShapeKind.MESH, size=(0.1, 0.2, 0.05), placement=np.eye(4), mesh=tmp_path / "ball.stl"
    )
    up = np.array([0.6, 0.0, 0.8])
    want = (body.vertices * [0.1, 0.2, 0.05] @ up).min()
    assert float(lowest(ball, np.eye(4), up)) == pytest.approx(want, abs=1e-6)


def test_heights_of_a_standing_walker(tmp_path):
    """By hand: hip 0.12 over the foot points, trunk 0.06 thick, feet rounded by 0.01."""
    robot = walker(tmp_path)
    motion = still(robot, np.zeros(12))
    heights = ground_clearance(robot, motion)
    assert heights.trunk.link == "body"
    assert heights.trunk.height == pytest.approx(0.12 - 0.03 + FOOT_RADIUS)
    assert len(heights.upper) == 4
    for low in heights.upper.values():
        assert low.height == pytest.approx(0.12 - 0.01 + FOOT_RADIUS)  # coxa, 0.02 high
        assert low.link.endswith("_coxa")
    assert heights.obstacle == np.inf  # nothing swings


def test_belly(tmp_path):
    """By hand: the trunk is 0.06 thick about the body frame; without shape there is none."""
    robot = walker(tmp_path)
    assert lowest_trunk_point(robot) == pytest.approx(-0.03)
    bare = replace(robot.tree.links["body"], collision=(), visual=())
    links = {**robot.tree.links, "body": bare}
    assert lowest_trunk_point(replace(robot, tree=replace(robot.tree, links=links))) is None


def test_heights_of_a_swinging_leg(tmp_path):
    """By hand: the knee turned by c lifts the foot by 0.12 (1 - cos c); the foot rounds it."""
    robot = walker(tmp_path)
    name = next(iter(robot.legs))
    bend = np.array([0.0, 0.2, 0.5, 0.3])
    q = np.zeros((4, 12))
    q[:, robot.columns[name].stop - 1] = bend
    contact = np.ones((4, 4), dtype=bool)
    contact[1:, 0] = False
    heights = ground_clearance(robot, still(robot, q, contact))
    swing = heights.swing[name]
    rise = 0.12 * (1.0 - np.cos(0.5))
    assert swing.sample == 2
    assert swing.lift == pytest.approx(rise)
    assert swing.obstacle == pytest.approx(rise)
    assert heights.obstacle == swing.obstacle
    others = [heights.swing[other].sample for other in robot.legs if other != name]
    assert others == [-1, -1, -1]


def test_ground_convention_does_not_matter(tmp_path):
    """Raising the whole motion by the foot radius (foot centres at z = r) changes nothing."""
    robot = walker(tmp_path)
    motion = still(robot, np.zeros(12))
    raised = replace(motion, body=motion.body + np.array([0, 0, FOOT_RADIUS, 0, 0, 0, 0]))
    one, two = ground_clearance(robot, motion), ground_clearance(robot, raised)
    assert one.trunk.height == pytest.approx(two.trunk.height)


def test_body_pitched_onto_its_front_feet(tmp_path):
    """By hand: trunk corner 0.15 ahead and 0.03 down, front feet 0.1 ahead and 0.12 down."""
    robot = walker(tmp_path)
    contact = np.array([name.endswith("front") for name in robot.legs])
    motion = still(robot, np.zeros(12), contact)
    body = np.array(motion.body)
    body[:, 3:] = np.cos(0.05), 0.0, np.sin(0.05), 0.0  # pitched down by 0.1 rad
    heights = ground_clearance(robot, replace(motion, body=body))
    want = -0.05 * np.sin(0.1) + 0.09 * np.cos(0.1) + FOOT_RADIUS
    assert contact.sum() == 2
    assert heights.trunk.height == pytest.approx(want, abs=1e-12)
