"""The robot as links, joints and solids: what a page needs to draw it in any pose."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from typing import Literal

import numpy as np

from legwright.errors import RobotError
from legwright.mechanics.shapes import link_poses
from legwright.robot import tree
from legwright.robot.hulls import hull_points
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, JointKind, ShapeKind
from legwright.views.desk.said import Joint, Matrix, Shape, Solid

Triangle = tuple[int, ...]


def shape_of(robot: Robot, *, rev: int, who: Literal["now", "before"] = "now") -> Shape:
    """A robot's shape as a message.

    Args:
        robot: The robot.
        rev: Revision that it is of.
        who: The edited robot or what lies under it.

    Returns:
        The message; a mesh is told as its convex hull, one that cannot be read not at all.
    """
    rest = link_poses(robot, np.zeros((1, len(robot.joint_names))))
    column = {name: at for at, name in enumerate(robot.joint_names)}
    joints = tuple(_joint(robot, joint, column) for joint in _outward(robot.tree))
    radii = [leg.chain.foot_radius for leg in robot.legs.values()]
    return Shape(
        rev=rev,
        who=who,
        body=robot.body,
        root=robot.tree.root,
        base=_flat(rest[robot.tree.root]),
        links=tuple(robot.tree.links),
        joints=joints,
        solids=tuple(
            solid
            for link in robot.tree.links.values()
            for shape in link.shapes
            for solid in _solid(link.name, shape)
        ),
        feet={name: _foot(robot, name) for name in robot.legs},
        foot_radius=float(np.median(radii)) if radii else 0.0,
        mass=robot.mass,
    )


def _outward(whole: tree.Tree) -> Iterable[tree.Joint]:
    """All joints, parents before children."""
    waiting = [whole.root]
    while waiting:
        for name in whole.child_joints.get(waiting.pop(), ()):
            yield whole.joints[name]
            waiting.append(whole.joints[name].child)


def _joint(robot: Robot, joint: tree.Joint, column: dict[str, int]) -> Joint:
    mimic = joint.mimic
    x, y, z = joint.axis.tolist()
    return Joint(
        name=joint.name,
        kind=joint.kind.value,
        parent=joint.parent,
        child=joint.child,
        placement=_flat(joint.placement),
        axis=(x, y, z),
        lower=_bound(joint.lower) if joint.kind is not JointKind.FIXED else None,
        upper=_bound(joint.upper) if joint.kind is not JointKind.FIXED else None,
        column=column.get(joint.name, -1),
        held=robot.held.get(joint.name, 0.0),
        mimics=mimic.source if mimic else "",
        multiplier=mimic.multiplier if mimic else 1.0,
        offset=mimic.offset if mimic else 0.0,
    )


def _bound(value: float) -> float | None:
    return float(value) if isfinite(value) else None


def _flat(pose: Floats) -> Matrix:
    return tuple(np.asarray(pose, dtype=np.float64).reshape(16).tolist())


def _foot(robot: Robot, name: str) -> tuple[str, tuple[float, float, float]]:
    """The link that carries a leg's foot point, and the point in it."""
    chain = robot.legs[name].chain
    x, y, z = chain.foot.tolist()
    return chain.link_names[-1], (x, y, z)


def _solid(link: str, shape: tree.Shape) -> Iterable[Solid]:
    """The solid of a shape; nothing for a mesh that cannot be read."""
    if shape.kind is not ShapeKind.MESH:
        yield Solid(
            link=link,
            kind=shape.kind.value,
            size=tuple(float(size) for size in shape.size),
            placement=_flat(shape.placement),
            corners=(),
            faces=(),
        )
        return
    if shape.mesh is None:
        return
    try:
        points = hull_points(shape.mesh, shape.size)
    except RobotError:
        return
    turn, at = shape.placement[:3, :3], shape.placement[:3, 3]
    yield Solid(
        link=link,
        kind="hull",
        size=(),
        placement=_flat(np.eye(4)),
        corners=tuple((float(x), float(y), float(z)) for x, y, z in points @ turn.T + at),
        faces=_triangles(points),
    )


def _triangles(points: Floats) -> tuple[Triangle, ...]:
    """Triangles of a convex hull, anticlockwise seen from outside."""
    from scipy.spatial import ConvexHull

    hull = ConvexHull(points)
    middle = points.mean(axis=0)
    found = []
    for a, b, c in hull.simplices.tolist():
        normal = np.cross(points[b] - points[a], points[c] - points[a])
        outside = float(normal @ (points[a] - middle)) > 0.0
        found.append((a, b, c) if outside else (a, c, b))
    return tuple(found)
