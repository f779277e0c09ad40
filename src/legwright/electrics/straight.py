"""Straight lines between the ends of cables, where nobody has routed them yet."""

from __future__ import annotations

import numpy as np

from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Tree


def straight_length(robot: Robot, start: str, end: str) -> float | None:
    """Distance between two ends of a cable at joint zero, the sheet's slack added [m].

    Args:
        robot: The robot.
        start: A joint, where its servo sits; or ``hub``.
        end: The same.

    Returns:
        Length; None where the sheet does not say where an end is.
    """
    ends = [_place(robot, point) for point in (start, end)]
    if ends[0] is None or ends[1] is None:
        return None
    slack = robot.sheet.harness.slack if robot.sheet.harness else 0.0
    return float(np.linalg.norm(ends[1] - ends[0])) * (1.0 + slack)


def _place(robot: Robot, point: str) -> Floats | None:
    if point == "hub":
        at = robot.sheet.hub.at if robot.sheet.hub else None
        return np.zeros(3) if at is None else np.array(at)
    if point not in robot.tree.joints:
        return None
    joint = robot.tree.joints[point]
    seen = np.linalg.inv(_pose(robot.tree, robot.body)) @ _pose(robot.tree, joint.parent)
    return np.asarray((seen @ joint.placement)[:3, 3])


def _pose(tree: Tree, link: str) -> Floats:
    """A link's pose in the root's frame with all joints at zero, (4, 4)."""
    pose = np.eye(4)
    while link != tree.root:
        joint = tree.joints[tree.parent_joint[link]]
        pose, link = joint.placement @ pose, joint.parent
    return pose
