"""Joints that belong to no leg: what it takes to hold them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from legwright.mechanics.pose import GRAVITY
from legwright.robot.placement import inverse, shifted, turned
from legwright.robot.robot import Robot
from legwright.robot.solids import merged
from legwright.robot.tree import Floats, Joint, JointKind, Solid, Tree


def held_torques(robot: Robot) -> Floats:
    """Torque that holds each joint of `Robot.held` at rest on level ground.

    Args:
        robot: The robot, body axes level.

    Returns:
        (K,), in the order of `Robot.held`, positive along the joint's axis [N·m, or N for a
        sliding joint]. Joints that mimic a held joint weigh on it by their multiplier.
    """
    return _held(robot).copy()


@lru_cache(maxsize=4)
def _held(robot: Robot) -> Floats:
    tree = robot.tree
    poses = body_poses(tree, robot.body, robot.held)
    torques = []
    for name in robot.held:
        total = _holding(tree, robot.body, poses, tree.joints[name])
        for joint in tree.joints.values():
            if joint.mimic is not None and joint.mimic.source == name:
                total += joint.mimic.multiplier * _holding(tree, robot.body, poses, joint)
        torques.append(total)
    return np.array(torques, dtype=np.float64)


def body_poses(tree: Tree, body: str, held: Mapping[str, float]) -> dict[str, Floats]:
    """Pose of every link in the body frame.

    Args:
        tree: The description.
        body: Name of the body link.
        held: Positions of driven joints; the others are at zero.

    Returns:
        Link name -> (4, 4).
    """
    poses: dict[str, Floats] = {tree.root: np.eye(4)}
    pending = [tree.root]
    while pending:
        link = pending.pop()
        for name in tree.child_joints.get(link, ()):
            joint = tree.joints[name]
            poses[joint.child] = poses[link] @ _across(joint, _position(joint, held))
            pending.append(joint.child)
    to_body = inverse(poses[body])
    return {name: to_body @ pose for name, pose in poses.items()}


def _position(joint: Joint, held: Mapping[str, float]) -> float:
    if joint.mimic is not None:
        return joint.mimic.multiplier * held.get(joint.mimic.source, 0.0) + joint.mimic.offset
    return held.get(joint.name, 0.0)


def _across(joint: Joint, at: float) -> Floats:
    """Pose of a joint's child link in its parent link's frame."""
    if not joint.moves:
        return joint.placement
    moved = shifted if joint.kind is JointKind.PRISMATIC else turned
    return np.asarray(joint.placement @ moved(joint.axis, at))


def _beyond(tree: Tree, link: str) -> set[str]:
    """A link and all links that it carries."""
    found, pending = set(), [link]
    while pending:
        name = pending.pop()
        found.add(name)
        pending += [tree.joints[joint].child for joint in tree.child_joints.get(name, ())]
    return found


def _holding(tree: Tree, body: str, poses: Mapping[str, Floats], joint: Joint) -> float:
    """Torque at rest of one joint, from the weight of the side that the body is not on."""
    side, sign = _beyond(tree, joint.child), 1.0
    if body in side:
        side, sign = set(tree.links) - side, -1.0
    load: Solid = merged(
        (poses[name], tree.links[name].solid) for name in tree.links if name in side
    )
    frame = poses[joint.child]
    axis = frame[:3, :3] @ joint.axis
    lift = np.array([0.0, 0.0, load.mass * GRAVITY])
    if joint.kind is JointKind.PRISMATIC:
        return float(sign * axis @ lift)
    return float(sign * axis @ np.cross(load.com - frame[:3, 3], lift))
