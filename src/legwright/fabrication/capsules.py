"""Capsules around the segments of a leg: how thick coxa, femur and tibia are."""

from __future__ import annotations

import numpy as np

from legwright.mechanics.kinematics import ClosedForm
from legwright.robot.hulls import hull_points
from legwright.robot.leg import Leg
from legwright.robot.paths import poses_from, rigid_with
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Shape, ShapeKind

ROUND = 24
"""Corners that stand for the rim of a cylinder."""


def capsule_radii(robot: Robot) -> Floats:
    """Radii of capsules along the segments that hold all shapes of their links.

    Args:
        robot: The robot; legs in closed form.

    Returns:
        (L, 3): of coxa, femur, tibia with foot [m]; 0 for a link without shape.
    """
    poses = poses_from(robot.tree, robot.body, robot.held)
    return np.array([_radii(robot, leg, poses) for leg in robot.legs.values()])


def _radii(robot: Robot, leg: Leg, poses: dict[str, Floats]) -> list[float]:
    found = []
    axes = axis_points(leg)
    for k, joint in enumerate(leg.chain.moving_names):
        start, end = axes[k], axes[k + 1]
        radius = 0.0
        for name in rigid_with(robot.tree, robot.tree.joints[joint].child):
            for shape in robot.tree.links[name].shapes:
                points, grown = _corners(shape)
                pose = poses[name] @ shape.placement
                radius = max(radius, _farthest(points @ pose[:3, :3].T + pose[:3, 3], start, end)
                             + grown)  # fmt: skip
        found.append(radius)
    return found


def axis_points(leg: Leg) -> Floats:
    """First axis, femur axis, knee axis and foot with all joints at zero, (4, 3), body frame [m].

    The points on the axes lie in the foot's plane.
    """
    solver = leg.kinematics
    m = solver.pack if isinstance(solver, ClosedForm) else np.zeros(32)
    frame = m[:9].reshape(3, 3)
    across, out = m[12] * frame[0] + m[13] * frame[2], frame[1]
    up = m[12] * frame[2] - m[13] * frame[0]
    hip = m[9:12] + m[14] * across
    femur = hip + m[15] * out + m[16] * up
    slopes = (m[19], m[19] + m[21])
    knee = femur + m[18] * (np.cos(slopes[0]) * out + np.sin(slopes[0]) * up)
    foot = knee + m[20] * (np.cos(slopes[1]) * out + np.sin(slopes[1]) * up)
    return np.array([hip, femur, knee, foot])


def _corners(shape: Shape) -> tuple[Floats, float]:
    """Points whose hull, grown by a radius, is the shape."""
    if shape.kind is ShapeKind.SPHERE:
        return np.zeros((1, 3)), shape.size[0]
    if shape.kind is ShapeKind.BOX:
        signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
        return 0.5 * signs * np.array(shape.size), 0.0
    if shape.kind is ShapeKind.CYLINDER:
        radius, length = shape.size
        turn = np.arange(ROUND) * 2.0 * np.pi / ROUND
        rim = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), np.zeros(ROUND)])
        tip = np.array([0.0, 0.0, 0.5 * length])
        return np.concatenate([rim + tip, rim - tip]), 0.0
    if shape.mesh is None:
        return np.zeros((1, 3)), 0.0
    return hull_points(shape.mesh, shape.size), 0.0


def femur_beams(robot: Robot) -> Floats:
    """Boxes along the femurs that hold the shapes of their links.

    Args:
        robot: The robot; legs in closed form.

    Returns:
        (L, 6): least and greatest place along the femur, square to it, across it [m]; of a link
        without shape that of its axis.
    """
    poses = poses_from(robot.tree, robot.body, robot.held)
    return np.array([_beam(robot, leg, poses) for leg in robot.legs.values()])


def _beam(robot: Robot, leg: Leg, poses: dict[str, Floats]) -> Floats:
    solver = leg.kinematics
    m = solver.pack if isinstance(solver, ClosedForm) else np.zeros(32)
    frame = m[:9].reshape(3, 3)
    _, start, end, _ = axis_points(leg)
    length = float(np.linalg.norm(end - start))
    along, across = (end - start) / length, m[12] * frame[0] + m[13] * frame[2]
    axes = np.array([along, np.cross(across, along), across])
    low, high = np.zeros(3), np.array([length, 0.0, 0.0])
    for name in rigid_with(robot.tree, robot.tree.joints[leg.chain.moving_names[1]].child):
        for shape in robot.tree.links[name].shapes:
            points, grown = _corners(shape)
            pose = poses[name] @ shape.placement
            seen = (points @ pose[:3, :3].T + pose[:3, 3] - start) @ axes.T
            low = np.minimum(low, seen.min(axis=0) - grown)
            high = np.maximum(high, seen.max(axis=0) + grown)
    return np.column_stack([low, high]).ravel()


def trunk_boxes(robot: Robot) -> Floats:
    """Boxes that hold the shapes that do not move with a leg.

    Args:
        robot: The robot; joints of no leg at their held positions.

    Returns:
        (B, 15): axes row by row, centre, half edges, body frame [m].
    """
    poses = poses_from(robot.tree, robot.body, robot.held)
    moving = {
        name
        for leg in robot.legs.values()
        for joint in leg.chain.moving_names
        for name in rigid_with(robot.tree, robot.tree.joints[joint].child)
    }
    rows = []
    for name, link in robot.tree.links.items():
        if name in moving or name not in poses:
            continue
        for shape in link.shapes:
            points, grown = _corners(shape)
            low, high = points.min(axis=0) - grown, points.max(axis=0) + grown
            pose = poses[name] @ shape.placement
            centre = pose[:3, :3] @ (0.5 * (low + high)) + pose[:3, 3]
            rows.append([*pose[:3, :3].T.ravel(), *centre, *(0.5 * (high - low))])
    return np.array(rows).reshape(-1, 15)


def _farthest(points: Floats, start: Floats, end: Floats) -> float:
    way = end - start
    size = max(float(way @ way), 1e-18)
    share = np.clip((points - start) @ way / size, 0.0, 1.0)
    return float(np.linalg.norm(points - start - share[:, None] * way, axis=1).max())
