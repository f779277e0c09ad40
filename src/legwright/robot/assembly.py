"""From legs found in a tree to chains, trunk and held joints."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from legwright.errors import RobotError
from legwright.robot.chain import Chain
from legwright.robot.limbs import Limb
from legwright.robot.paths import below, poses_below, poses_from, step_of
from legwright.robot.solids import merged
from legwright.robot.tree import Floats, Joint, JointKind, ShapeKind, Solid, Tree, read_only


def positions_held(
    tree: Tree, limbs: tuple[Limb, ...], wanted: Mapping[str, float]
) -> dict[str, float]:
    """Where each moving joint that belongs to no leg is held.

    Args:
        tree: The description.
        limbs: The legs.
        wanted: Joint name -> position asked for by the sheet [rad or m].

    Returns:
        Joint name -> position; mimic joints follow their source.
    """
    in_legs = {joint.name for limb in limbs for joint in limb.moving}
    held: dict[str, float] = {}
    for joint in tree.joints.values():
        if joint.name not in in_legs and joint.actuated:
            position = wanted.get(joint.name, 0.0)
            held[joint.name] = min(max(position, joint.lower), joint.upper)
    for joint in tree.joints.values():
        if joint.name not in in_legs and joint.mimic is not None:
            source = held.get(joint.mimic.source, 0.0)
            held[joint.name] = joint.mimic.multiplier * source + joint.mimic.offset
    return held


def chain_of(
    tree: Tree,
    body: str,
    limb: Limb,
    held: Mapping[str, float],
    path: Path,
    *,
    foot_offset: tuple[float, float, float] | None = None,
) -> Chain:
    """The bare numbers of one leg.

    Args:
        tree: The description.
        body: Body link.
        limb: The leg.
        held: Positions of all joints outside the legs.
        path: The file, for errors.
        foot_offset: Foot point in the end link's frame [m]; its origin when None.

    Returns:
        The chain, fixed joints merged away.

    Raises:
        RobotError: if a joint of the leg mimics a joint outside it.
    """
    moving, drives = limb.moving, limb.drives
    placements = []
    pose = poses_from(tree, body, held)[limb.base]
    for joint in limb.joints:
        pose = pose @ joint.placement
        if joint.moves:
            placements.append(pose)
            pose = np.eye(4)
    coupling, offset = _coupling(moving, drives, path)
    offset_point = np.array([*(foot_offset or (0.0, 0.0, 0.0)), 1.0])
    foot = (pose @ offset_point)[:3]
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
        lower=read_only([joint.lower for joint in drives]),
        upper=read_only([joint.upper for joint in drives]),
        solids=tuple(_carried(tree, limb, joint, held) for joint in moving),
        foot_radius=_foot_radius(tree, limb, foot, held),
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
                f"mimics joint '{joint.mimic.source}', which is no joint of the same leg",
                "Let a leg's joint follow one of its own leg, or give it a drive.",
            )
        coupling[row, columns[joint.mimic.source]] = joint.mimic.multiplier
        offset[row] = joint.mimic.offset
    return coupling, offset


def _carried(tree: Tree, limb: Limb, joint: Joint, held: Mapping[str, float]) -> Solid:
    """All that moves rigidly with a leg's joint, in its frame."""
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
    return merged((pose, tree.links[link].solid) for link, pose in poses.items())


def trunk_of(tree: Tree, body: str, limbs: tuple[Limb, ...], held: Mapping[str, float]) -> Solid:
    """All that moves rigidly with the body while only legs move, in the body frame."""
    in_legs: set[str] = set()
    for limb in limbs:
        first = limb.joints[0].child
        in_legs |= {first, *(joint.child for joint in below(tree, first))}
    poses = poses_from(tree, body, held)
    return merged(
        (pose, tree.links[link].solid) for link, pose in poses.items() if link not in in_legs
    )


def _foot_radius(tree: Tree, limb: Limb, foot: Floats, held: Mapping[str, float]) -> float:
    """Radius of a sphere shape of the leg's last part that holds the foot point, else 0."""
    last = limb.moving[-1]
    best = 0.0
    for link, pose in poses_below(tree, last.child, held).items():
        for shape in tree.links[link].shapes:
            if shape.kind is not ShapeKind.SPHERE:
                continue
            centre = (pose @ shape.placement)[:3, 3]
            if np.linalg.norm(centre - foot) < 0.25 * shape.size[0]:
                best = max(best, shape.size[0])
    return best
