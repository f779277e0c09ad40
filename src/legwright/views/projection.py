"""One renderer for plan, side and isometric: link shapes to outlines, far to near."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, cos, sin, sqrt

import numpy as np

from legwright.mechanics.solids import solids_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Joint, JointKind
from legwright.views.ink import Point


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class View:
    """A parallel projection: rows of right, down and towards the viewer, in the body frame."""

    right: Floats
    down: Floats
    near: Floats

    def flat(self, points: Floats) -> Floats:
        """(..., 3) [m] -> (..., 2): right and down [m]."""
        return np.stack([points @ self.right, points @ self.down], axis=-1)


def _view(right: Sequence[float], down: Sequence[float]) -> View:
    r, d = np.array(right, dtype=np.float64), np.array(down, dtype=np.float64)
    return View(right=r, down=d, near=np.cross(d, r))


PLAN = _view((0.0, -1.0, 0.0), (-1.0, 0.0, 0.0))
"""From above, nose up."""
SIDE = _view((-1.0, 0.0, 0.0), (0.0, 0.0, -1.0))
"""From the left, nose to the left."""
ISOMETRIC = _view(
    (-1.0 / sqrt(2.0), 1.0 / sqrt(2.0), 0.0), (1.0 / sqrt(6.0), 1.0 / sqrt(6.0), -2.0 / sqrt(6.0))
)
"""From ahead, left and above."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Outline:
    """One shape of one link as it is seen."""

    link: str
    hull: tuple[Point, ...]
    """Silhouette, right and down [m]."""
    edges: tuple[tuple[Point, ...], ...]
    """Edges that face the viewer inside the silhouette [m]."""
    depth: float
    """Larger is nearer to the viewer [m]."""


def link_poses(robot: Robot, q: Floats) -> dict[str, Floats]:
    """Where every link is.

    Args:
        robot: The robot.
        q: Leg joint positions as `Robot.joint_names`, (J,) [rad or m].

    Returns:
        Link name -> pose in the body frame, (4, 4).
    """
    at = dict(zip(robot.joint_names, (float(value) for value in q), strict=True))
    at |= {name: float(value) for name, value in robot.held.items()}
    tree = robot.tree
    poses = {tree.root: np.eye(4)}
    waiting = [tree.root]
    while waiting:
        link = waiting.pop()
        for name in tree.child_joints.get(link, ()):
            joint = tree.joints[name]
            poses[joint.child] = poses[link] @ joint.placement @ _moved(joint, at)
            waiting.append(joint.child)
    home = np.linalg.inv(poses[robot.body])
    return {link: home @ pose for link, pose in poses.items()}


def _moved(joint: Joint, at: Mapping[str, float]) -> Floats:
    pose = np.eye(4)
    if not joint.moves:
        return pose
    if joint.mimic is not None:
        value = joint.mimic.multiplier * at.get(joint.mimic.source, 0.0) + joint.mimic.offset
    else:
        value = at.get(joint.name, 0.0)
    if joint.kind is JointKind.PRISMATIC:
        pose[:3, 3] = joint.axis * value
        return pose
    x, y, z = joint.axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    pose[:3, :3] += sin(value) * cross + (1.0 - cos(value)) * (cross @ cross)
    return pose


def outlines(
    robot: Robot, poses: Mapping[str, Floats], links: Sequence[str], view: View
) -> list[Outline]:
    """Shapes of some links as they are seen, far to near.

    A link without shapes is drawn as a thin bar to each joint that it carries.

    Args:
        robot: The robot.
        poses: As `link_poses` gives.
        links: Which links.
        view: The projection.

    Returns:
        One outline per shape.
    """
    seen = []
    for name in links:
        for points, faces in solids_of(robot, name):
            placed = points @ poses[name][:3, :3].T + poses[name][:3, 3]
            seen.append(_outline(name, placed, faces, view))
    return sorted(seen, key=lambda outline: outline.depth)


def corner_points(robot: Robot, poses: Mapping[str, Floats]) -> Floats:
    """Corner points of every shape of a robot at a pose, (N, 3) in the body frame [m]."""
    found = [np.zeros((1, 3))]
    for name in poses:
        for points, _ in solids_of(robot, name):
            found.append(points @ poses[name][:3, :3].T + poses[name][:3, 3])
    return np.concatenate(found)


def _outline(link: str, points: Floats, faces: Sequence[Sequence[int]], view: View) -> Outline:
    flat = view.flat(points)
    edges = []
    for face in faces:
        corners = flat[list(face)]
        x, y = corners[:, 0], corners[:, 1]
        area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
        if area < -1e-10:
            edges.append(tuple((float(p[0]), float(p[1])) for p in corners))
    return Outline(
        link=link,
        hull=tuple(convex_hull(flat)),
        edges=tuple(edges),
        depth=float((points @ view.near).mean()),
    )


def convex_hull(points: Floats) -> list[Point]:
    """Corners of the convex hull, in order.

    Args:
        points: (N, 2)

    Returns:
        Corners; one or two where all points coincide or lie on a line.

    Source: Andrew, Inf. Process. Lett. 9(5):216-219, 1979 (monotone chain) [from memory].
    """
    unique = sorted({(round(float(x), 7), round(float(y), 7)) for x, y in points})
    if len(unique) < 3:
        return unique
    return _chain(unique)[:-1] + _chain(unique[::-1])[:-1]


def _chain(points: Sequence[Point]) -> list[Point]:
    kept: list[Point] = []
    for point in points:
        while len(kept) > 1 and _turn(kept[-2], kept[-1], point) <= 0.0:
            kept.pop()
        kept.append(point)
    return kept


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def heading(view: View) -> float:
    """Direction of the body's nose on paper, y down [rad]."""
    return atan2(float(view.down[0]), float(view.right[0]))
