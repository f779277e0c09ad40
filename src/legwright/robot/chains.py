"""From legs found in a tree to chains and trunk: fixed joints merged, masses lumped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from legwright.errors import RobotError
from legwright.robot.chain import Chain
from legwright.robot.limbs import Limb
from legwright.robot.paths import below, step_of
from legwright.robot.solids import merged
from legwright.robot.tree import Floats, Joint, JointKind, ShapeKind, Solid, Tree, read_only


def chain_of(
    tree: Tree,
    base: Floats,
    limb: Limb,
    held: Mapping[str, float],
    *,
    path: Path,
    foot_offset: tuple[float, float, float] = (0.0, 0.0, 0.0),
    foot_radius: float | None = None,
) -> Chain:
    """The bare numbers of one leg.

    Args:
        tree: The description.
        base: Pose of the link that carries the leg, in the body frame, (4, 4).
        limb: The leg.
        held: Positions of all moving joints outside the legs [rad or m].
        path: The file, for errors.
        foot_offset: Foot point in the end link's frame [m].
        foot_radius: Radius of the foot's rounding [m]; that of its sphere shape when None.

    Returns:
        The chain.

    Raises:
        RobotError: if a joint of the leg mimics a joint outside it.
    """
    moving, drives = limb.moving, limb.drives
    placements = []
    pose = base
    for joint in limb.joints:
        if joint in moving:
            placements.append(pose @ joint.placement)
            pose = np.eye(4)
        else:
            pose = pose @ step_of(joint, held.get(joint.name, 0.0))
    coupling, offset = _coupling(moving, drives, path)
    lower, upper = _limits(moving, drives, path)
    foot = pose[:3, :3] @ np.array(foot_offset) + pose[:3, 3]
    parts = [_carried(tree, limb, joint, held) for joint in moving]
    radius = _foot_radius(tree, parts[-1], foot) if foot_radius is None else foot_radius
    return Chain(
        joint_names=tuple(joint.name for joint in drives),
        moving_names=tuple(joint.name for joint in moving),
        link_names=tuple(joint.child for joint in moving),
        foot_link=limb.end,
        placements=read_only(placements),
        axes=read_only([joint.axis for joint in moving]),
        prismatic=tuple(joint.kind is JointKind.PRISMATIC for joint in moving),
        coupling=read_only(coupling),
        offset=read_only(offset),
        foot=read_only(foot),
        lower=read_only(lower),
        upper=read_only(upper),
        solids=tuple(_lumped(tree, part) for part in parts),
        foot_radius=radius,
    )


def _coupling(
    moving: tuple[Joint, ...], drives: tuple[Joint, ...], path: Path
) -> tuple[Floats, Floats]:
    columns = {joint.name: column for column, joint in enumerate(drives)}
    coupling, offset = np.zeros((len(moving), len(drives))), np.zeros(len(moving))
    for row, joint in enumerate(moving):
        if joint.mimic is None:
            coupling[row, columns[joint.name]] = 1.0
            continue
        if joint.mimic.source not in columns:
            raise RobotError(
                path,
                f"joint '{joint.name}'",
                f"mimics joint '{joint.mimic.source}', which is no driven joint of its own leg",
                "Let a leg's joint follow one of its own leg, or give it a drive.",
            )
        coupling[row, columns[joint.mimic.source]] = joint.mimic.multiplier
        offset[row] = joint.mimic.offset
    return coupling, offset


def _limits(
    moving: tuple[Joint, ...], drives: tuple[Joint, ...], path: Path
) -> tuple[Floats, Floats]:
    """Limits of the drives, narrowed by those of the joints that follow them."""
    columns = {joint.name: column for column, joint in enumerate(drives)}
    lower = np.array([joint.lower for joint in drives])
    upper = np.array([joint.upper for joint in drives])
    for joint in moving:
        if joint.mimic is None or joint.mimic.multiplier == 0.0:
            continue
        column = columns[joint.mimic.source]
        ends = (np.array([joint.lower, joint.upper]) - joint.mimic.offset) / joint.mimic.multiplier
        lower[column] = max(lower[column], ends.min())
        upper[column] = min(upper[column], ends.max())
        if lower[column] >= upper[column]:
            raise RobotError(
                path,
                f"joint '{joint.name}'",
                f"never lies inside its limits while it follows '{joint.mimic.source}'",
                "Check its limits, multiplier and offset.",
            )
    return lower, upper


def _carried(tree: Tree, limb: Limb, joint: Joint, held: Mapping[str, float]) -> dict[str, Floats]:
    """Poses of all links that move rigidly with a leg's joint, in its frame."""
    later = {other.name for other in limb.moving}
    poses = {joint.child: np.eye(4)}
    pending = [joint.child]
    while pending:
        link = pending.pop()
        for name in tree.child_joints[link]:
            if name in later:
                continue
            other = tree.joints[name]
            poses[other.child] = poses[link] @ step_of(other, held.get(name, 0.0))
            pending.append(other.child)
    return poses


def _lumped(tree: Tree, poses: Mapping[str, Floats]) -> Solid:
    return merged((pose, tree.links[link].solid) for link, pose in poses.items())


def _foot_radius(tree: Tree, poses: Mapping[str, Floats], foot: Floats) -> float:
    """Radius of the largest sphere shape of the leg's last part around the foot point, or 0."""
    best = 0.0
    for link, pose in poses.items():
        for shape in tree.links[link].shapes:
            if shape.kind is not ShapeKind.SPHERE:
                continue
            centre = (pose @ shape.placement)[:3, 3]
            if np.linalg.norm(centre - foot) <= 0.25 * shape.size[0]:
                best = max(best, shape.size[0])
    return best


def trunk_links(tree: Tree, limbs: Sequence[Limb]) -> list[str]:
    """Links that belong to no leg, in the order of the file."""
    in_legs: set[str] = set()
    for limb in limbs:
        first = limb.joints[0].child
        in_legs |= {first, *(joint.child for joint in below(tree, first))}
    return [link for link in tree.links if link not in in_legs]


def trunk_of(tree: Tree, limbs: Sequence[Limb], poses: Mapping[str, Floats]) -> Solid:
    """All that moves rigidly with the body while only legs move, in the body frame.

    Args:
        tree: The description.
        limbs: The legs.
        poses: Poses of the links in the body frame, (4, 4) each.
    """
    return _lumped(tree, {link: poses[link] for link in trunk_links(tree, limbs)})
