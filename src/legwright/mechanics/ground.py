"""What of a robot can meet the ground: its links sorted by what carries them, its belly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.mechanics.shapes import link_poses, lowest
from legwright.robot.robot import Robot

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True)
class Parts:
    """Names of links: with the body, and per leg above and below its last moving joint."""

    trunk: list[str]
    """Everything that moves with the body while only legs move, mast included."""
    upper: dict[str, list[str]]
    """Leg -> its links above the last moving joint."""
    last: dict[str, list[str]]
    """Leg -> what the last moving joint carries: lower leg and foot."""


def parts_of(robot: Robot) -> Parts:
    """Sort the links of a robot by what carries them."""
    owner = {joint: name for name, leg in robot.legs.items() for joint in leg.chain.moving_names}
    ends = {leg.chain.moving_names[-1] for leg in robot.legs.values()}
    parts = Parts([], {name: [] for name in robot.legs}, {name: [] for name in robot.legs})
    for link in robot.tree.links:
        joint = robot.tree.parent_joint.get(link)
        while joint is not None and joint not in owner:
            joint = robot.tree.parent_joint.get(robot.tree.joints[joint].parent)
        if joint is None:
            parts.trunk.append(link)
        else:
            (parts.last if joint in ends else parts.upper)[owner[joint]].append(link)
    return parts


def lowest_trunk_point(robot: Robot) -> float | None:
    """Height of the trunk's lowest point in the body frame.

    Args:
        robot: The robot.

    Returns:
        z [m], usually negative; None where nothing of the trunk has a shape.

    Raises:
        RobotError: if a mesh cannot be read.
    """
    poses = link_poses(robot, np.zeros((1, len(robot.joint_names))))
    heights = [
        float(np.min(lowest(shape, poses[link], UP)))
        for link in parts_of(robot).trunk
        for shape in robot.tree.links[link].shapes
    ]
    return min(heights, default=None)
