"""The same robot with other dimensions: a moved tree, or a sheet whose [dimensions] changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.layout import ANGLE, COXA, FEMUR, HEIGHT, TIBIA, X, Y
from legwright.mechanics.kinematics import ClosedForm, kinematics_of
from legwright.robot.assembly import assemble
from legwright.robot.dimensions import Dimensions
from legwright.robot.generate import tree_of
from legwright.robot.layout import hips_of
from legwright.robot.leg import Leg
from legwright.robot.paths import joints_to, poses_from, rigid_with
from legwright.robot.placement import inverse, turned
from legwright.robot.robot import Robot
from legwright.robot.tree import (
    Floats,
    Joint,
    Link,
    Shape,
    ShapeKind,
    Solid,
    Tree,
    read_only,
)

SHORT = 1e-3
"""A segment shorter than this is not stretched: nothing tells which way [m]."""
ALONG = 0.9
"""Cosine to the segment from which a shape's edge counts as lying along it."""


def rebuilt(robot: Robot, legs: Floats, today: Floats) -> Robot:
    """The robot with another layout.

    Args:
        robot: The robot as it is.
        legs: (L, 7) wanted, columns as `layout.KINDS` [m, rad].
        today: (L, 7) as it is.

    Returns:
        A new robot. From [dimensions] it is generated anew; otherwise, and where `paired` says
        no, joints are moved, and links are stretched along their segment with mass and inertia
        kept.
    """
    if paired(robot):
        shape = dimensions_with(robot, legs)
        sheet = robot.sheet.model_copy(update={"dimensions": shape})
        return assemble(
            tree_of(sheet, robot.source), sheet, robot.source, robot.source, kinematics_of
        )
    tree = moved_tree(robot, legs, today)  # shells that count are part of its links already
    shells = {k: one.model_copy(update={"counted": False}) for k, one in robot.sheet.shell.items()}
    sheet = robot.sheet.model_copy(update={"shell": shells})
    made = assemble(tree, sheet, robot.source, robot.source, kinematics_of)
    return replace(made, sheet=robot.sheet)


def paired(robot: Robot) -> bool:
    """Whether other hips can be stated in [dimensions]: there are such, and all are pairs.

    A ring with an odd number of legs has one on the centre line, which no list of hips states.
    """
    shape = robot.sheet.dimensions
    return shape is not None and (shape.ring is None or shape.legs % 2 == 0)


def dimensions_with(robot: Robot, legs: Floats) -> Dimensions:
    """A robot's [dimensions] with another layout.

    Args:
        robot: A robot that has such a table.
        legs: (L, 7) [m, rad].

    Raises:
        RequestError: for a ring with a leg on the centre line, which no list of hips can state.
    """
    shape = robot.sheet.dimensions
    if shape is None:
        raise RequestError("robot", robot.name, "one with a [dimensions] table")
    rows = {leg.joint_names[0]: row for leg, row in zip(robot.legs.values(), legs, strict=True)}
    hips = hips_of(shape)
    left = [rows[f"{hip.name}_coxa"] for hip in hips if hip.side > 0]
    if 2 * len(left) != len(hips):
        raise RequestError(
            "dimensions.ring", shape.legs, "a ring of an even number of legs; a leg on the centre "
            "line cannot be stated as a pair of hips",
        )  # fmt: skip
    first = left[0]
    return shape.model_copy(
        update={
            "ring": None,
            "hips": tuple((float(r[X]), float(r[Y]), float(r[ANGLE])) for r in left),
            "hip_height": float(first[HEIGHT]) - shape.femur_rise,
            "coxa": float(first[COXA]),
            "femur": float(first[FEMUR]),
            "tibia": float(first[TIBIA]),
        }
    )


def foot_is_mounted(robot: Robot, leg: Leg) -> bool:
    """Whether a leg's foot hangs on a fixed joint, so that the tibia's length can change."""
    way = joints_to(robot.tree, leg.chain.foot_link)
    return bool(way) and not way[-1].moves


def moved_tree(robot: Robot, legs: Floats, today: Floats) -> Tree:
    """A tree whose legs have another layout.

    Args:
        robot: The robot.
        legs: (L, 7) wanted [m, rad].
        today: (L, 7) as it is.

    Returns:
        The tree; what is rigid with the body stays where it is.
    """
    poses = poses_from(robot.tree, robot.body, robot.held)
    joints, links = dict(robot.tree.joints), dict(robot.tree.links)
    for leg, want, have in zip(robot.legs.values(), legs, today, strict=True):
        _move_leg(robot, leg, want - have, want, poses, joints, links)
    return replace(robot.tree, joints=MappingProxyType(joints), links=MappingProxyType(links))


def _move_leg(
    robot: Robot,
    leg: Leg,
    change: Floats,
    want: Floats,
    poses: Mapping[str, Floats],
    joints: dict[str, Joint],
    links: dict[str, Link],
) -> None:
    """Move one leg's joints and stretch its links, in place of the old ones."""
    solver = leg.kinematics
    if not isinstance(solver, ClosedForm):
        return
    m, tree = solver.pack, robot.tree
    frame = m[:9].reshape(3, 3)
    outward, upward = frame[1], m[12] * frame[2] - m[13] * frame[0]
    side = np.sign(want[COXA] - change[COXA]) * np.sign(m[15]) or 1.0
    slopes = (m[19], m[19] + m[21])
    ways = (
        side * outward,
        np.cos(slopes[0]) * outward + np.sin(slopes[0]) * upward,
        np.cos(slopes[1]) * outward + np.sin(slopes[1]) * upward,
    )
    names = leg.chain.moving_names
    first = joints[names[0]]
    pose = poses[first.child].copy()
    pose[:3, :3] = turned(np.array([0.0, 0.0, 1.0]), change[ANGLE])[:3, :3] @ pose[:3, :3]
    pose[:3, 3] += change[[X, Y, HEIGHT]]
    joints[names[0]] = replace(first, placement=read_only(inverse(poses[first.parent]) @ pose))
    ends = [names[1], names[2], joints_to(tree, leg.chain.foot_link)[-1].name]
    for kind, way, end, start in zip((COXA, FEMUR, TIBIA), ways, ends, names, strict=True):
        if abs(change[kind]) < 1e-12:
            continue
        joint = joints[end]
        if kind == TIBIA and joint.moves:
            raise RequestError(
                "tibia", leg.name, "pinned: this foot is no link of its own that could be moved"
            )
        placement = joint.placement.copy()
        placement[:3, 3] += poses[joint.parent][:3, :3].T @ (change[kind] * way)
        joints[end] = replace(joint, placement=read_only(placement))
        old = want[kind] - change[kind]
        if abs(old) < SHORT:
            continue
        origin = poses[tree.joints[start].child][:3, 3]
        last = tree.joints[end].child
        for name in rigid_with(tree, tree.joints[start].child):
            if name != last:
                links[name] = _stretched(
                    links[name], poses[name], origin, way, float(want[kind] / old)
                )


def _stretched(link: Link, pose: Floats, origin: Floats, way: Floats, ratio: float) -> Link:
    """A link stretched along a direction of the body frame, away from a point."""
    turn = pose[:3, :3]
    axis, start = turn.T @ way, turn.T @ (origin - pose[:3, 3])

    def moved(point: Floats) -> Floats:
        return np.asarray(point + (ratio - 1.0) * float((point - start) @ axis) * axis)

    solid = link.solid
    if solid.mass > 0.0:
        solid = Solid(mass=solid.mass, com=read_only(moved(solid.com)), inertia=solid.inertia)
    return replace(
        link,
        solid=solid,
        collision=tuple(_longer(shape, axis, ratio, moved) for shape in link.collision),
        visual=tuple(_longer(shape, axis, ratio, moved) for shape in link.visual),
    )


def _longer(shape: Shape, axis: Floats, ratio: float, moved: object) -> Shape:
    """A box or cylinder along the segment grows with it; others keep their size and move."""
    at = shape.placement.copy()
    if shape.kind is ShapeKind.MESH or not callable(moved):
        return shape
    at[:3, 3] = moved(at[:3, 3])
    edges = np.abs(at[:3, :3].T @ axis)
    size = list(shape.size)
    if shape.kind is ShapeKind.CYLINDER and edges[2] > ALONG:
        size[1] *= ratio
    elif shape.kind is ShapeKind.BOX and edges.max() > ALONG:
        size[int(edges.argmax())] *= ratio
    return replace(shape, size=tuple(float(each) for each in size), placement=read_only(at))
