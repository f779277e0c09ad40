"""Shapes of links in space: poses of all links, lowest and highest points."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from legwright.robot.hulls import hull_points
from legwright.robot.placement import inverse
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Joint, JointKind, Shape, ShapeKind


def link_poses(robot: Robot, q: Floats) -> dict[str, Floats]:
    """Poses of all links in the body frame.

    Joints outside the legs stand where the robot holds them; mimic joints follow.

    Args:
        robot: The robot.
        q: Joint positions, (T, J) [rad].

    Returns:
        Link name -> (T, 4, 4), or (4, 4) where the pose is the same at all times.
    """
    tree = robot.tree
    column = {name: index for index, name in enumerate(robot.joint_names)}
    poses: dict[str, Floats] = {tree.root: np.eye(4)}
    waiting = [tree.root]
    while waiting:
        link = waiting.pop()
        for name in tree.child_joints.get(link, ()):
            joint = tree.joints[name]
            position = _position(robot, joint, column, q)
            poses[joint.child] = poses[link] @ joint.placement @ _moved(joint, position)
            waiting.append(joint.child)
    body = poses[robot.body]
    back = inverse(body) if body.ndim == 2 else np.linalg.inv(body)
    return {name: back @ pose for name, pose in poses.items()}


def _position(robot: Robot, joint: Joint, column: Mapping[str, int], q: Floats) -> Floats | float:
    """Position of a joint, (T,) where a leg drive moves it, else one number."""
    if joint.mimic is not None:
        source = _position(robot, robot.tree.joints[joint.mimic.source], column, q)
        return joint.mimic.multiplier * source + joint.mimic.offset
    if joint.name in column:
        return q[:, column[joint.name]]
    return robot.held.get(joint.name, 0.0)


def _moved(joint: Joint, position: Floats | float) -> Floats:
    """What a joint's position adds to its placement, (T, 4, 4) or (4, 4)."""
    x = np.asarray(position, dtype=np.float64)[..., None, None]
    result = np.zeros((*x.shape[:-2], 4, 4)) + np.eye(4)
    if joint.kind is JointKind.PRISMATIC:
        result[..., :3, 3] += x[..., 0] * joint.axis
    elif joint.moves:
        a, b, c = joint.axis
        cross = np.array([[0.0, -c, b], [c, 0.0, -a], [-b, a, 0.0]])
        result[..., :3, :3] += np.sin(x) * cross + (1.0 - np.cos(x)) * (cross @ cross)
    return result


def lowest(shape: Shape, pose: Floats, up: Floats) -> Floats:
    """Height of the lowest point of a shape.

    Args:
        shape: The shape; a mesh counts as its convex hull, which has the same lowest point.
        pose: Of its link, (..., 4, 4).
        up: Unit vector upwards in the frame of the poses, (..., 3).

    Returns:
        Height over that frame's origin along ``up``, (...,) [m].
    """
    seen = (up[..., None, :] @ pose[..., :3, :3])[..., 0, :]  # up, seen from the link
    local = seen @ shape.placement[:3, :3]  # and from the shape
    middle = seen @ shape.placement[:3, 3] + (up * pose[..., :3, 3]).sum(axis=-1)
    if shape.kind is ShapeKind.SPHERE:
        return np.asarray(middle - shape.size[0])
    if shape.kind is ShapeKind.BOX:
        return np.asarray(middle - 0.5 * np.abs(local) @ np.asarray(shape.size))
    if shape.kind is ShapeKind.CYLINDER:
        radius, length = shape.size
        rim = radius * np.sqrt(local[..., 0] ** 2 + local[..., 1] ** 2)
        return np.asarray(middle - 0.5 * length * np.abs(local[..., 2]) - rim)
    if shape.mesh is None:
        return np.full_like(middle, np.inf)
    corners = hull_points(shape.mesh, shape.size)
    return np.asarray(middle + (local @ corners.T).min(axis=-1))
