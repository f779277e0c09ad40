"""Ways through a tree: chains of joints between links and the poses they make."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import ArrayLike

from legwright.robot.placement import inverse, shifted, turned
from legwright.robot.tree import Floats, Joint, JointKind, Tree


def joints_to(tree: Tree, link: str) -> list[Joint]:
    """The joints from the root to a link, root first."""
    found: list[Joint] = []
    while link in tree.parent_joint:
        joint = tree.joints[tree.parent_joint[link]]
        found.append(joint)
        link = joint.parent
    return found[::-1]


def common_link(tree: Tree, links: list[str]) -> str:
    """The lowest link that carries (or is) all the given links."""
    ways = [[tree.root, *(joint.child for joint in joints_to(tree, link))] for link in links]
    shared = tree.root
    for step in zip(*ways, strict=False):
        if len(set(step)) > 1:
            break
        shared = step[0]
    return shared


def below(tree: Tree, link: str) -> Iterator[Joint]:
    """All joints below a link, parents before children."""
    pending = [link]
    while pending:
        for name in tree.child_joints[pending.pop()]:
            yield tree.joints[name]
            pending.append(tree.joints[name].child)


def rigid_with(tree: Tree, link: str) -> list[str]:
    """The links that hold rigidly together with a link, itself included."""
    while link in tree.parent_joint and not tree.joints[tree.parent_joint[link]].moves:
        link = tree.joints[tree.parent_joint[link]].parent
    found, pending = [], [link]
    while pending:
        found.append(pending.pop())
        joints = [tree.joints[name] for name in tree.child_joints[found[-1]]]
        pending.extend(joint.child for joint in joints if not joint.moves)
    return found


def step_of(joint: Joint, position: ArrayLike) -> Floats:
    """Poses of a joint's child link in its parent link, (..., 4, 4).

    Args:
        joint: The joint.
        position: (...,) [rad or m]; of no meaning for a fixed joint.

    Returns:
        One pose per position; a single one for a fixed joint.
    """
    if not joint.moves or (np.ndim(position) == 0 and position == 0.0):
        return joint.placement
    move = shifted if joint.kind is JointKind.PRISMATIC else turned
    return joint.placement @ move(joint.axis, position)


def seen_through(joint: Joint, position: Floats, points: Floats) -> Floats:
    """Points of a joint's child link in its parent link; see `step_of`.

    Args:
        joint: The joint.
        position: (T,) [rad or m]; of no meaning for a fixed joint.
        points: (T, 3), in the child link's frame [m].

    Returns:
        (T, 3), in the parent link's frame [m].

    Source: Rodrigues' formula; Lynch & Park, Modern Robotics (2017), eq. 3.51.
    """
    if joint.moves and joint.kind is JointKind.PRISMATIC:
        points = points + position[:, None] * joint.axis
    elif joint.moves:
        x, y, z = joint.axis
        across = np.array([[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]])  # p @ across = axis x p
        aside = points @ across
        points = (
            points
            + np.sin(position)[:, None] * aside
            + (1.0 - np.cos(position))[:, None] * (aside @ across)
        )
    return points @ joint.placement[:3, :3].T + joint.placement[:3, 3]


def poses_below(tree: Tree, link: str, positions: Mapping[str, float]) -> dict[str, Floats]:
    """Poses of a link's whole subtree in that link's frame.

    Args:
        tree: The tree.
        link: Where to start.
        positions: Joint name -> position [rad or m]; zero where absent.

    Returns:
        Link name -> (4, 4), the link itself included.
    """
    poses = {link: np.eye(4)}
    for joint in below(tree, link):
        poses[joint.child] = poses[joint.parent] @ step_of(joint, positions.get(joint.name, 0.0))
    return poses


def poses_from(tree: Tree, link: str, positions: Mapping[str, float]) -> dict[str, Floats]:
    """Poses of all links of the tree in the frame of one of them; see `poses_below`."""
    poses = poses_below(tree, link, positions)
    at, here = np.eye(4), link
    while here in tree.parent_joint:
        joint = tree.joints[tree.parent_joint[here]]
        at = at @ inverse(step_of(joint, positions.get(joint.name, 0.0)))
        poses[joint.parent] = at
        for sibling in tree.child_joints[joint.parent]:
            if sibling == joint.name:
                continue
            other = tree.joints[sibling]
            start = at @ step_of(other, positions.get(sibling, 0.0))
            for name, pose in poses_below(tree, other.child, positions).items():
                poses[name] = start @ pose
        here = joint.parent
    return poses
