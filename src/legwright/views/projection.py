"""One renderer for plan, side and isometric: link shapes to outlines, far to near."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan2, cos, pi, sin, sqrt

import numpy as np

from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Joint, JointKind, Shape, ShapeKind
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
        bodies = [_corners(shape) for shape in robot.tree.links[name].shapes]
        solid = [body for body in bodies if body is not None] or _bars(robot, name)
        for points, faces in solid:
            placed = points @ poses[name][:3, :3].T + poses[name][:3, 3]
            seen.append(_outline(name, placed, faces, view))
    return sorted(seen, key=lambda outline: outline.depth)


def corner_points(robot: Robot, poses: Mapping[str, Floats]) -> Floats:
    """Corner points of every shape of a robot at a pose, (N, 3) in the body frame [m]."""
    found = [np.zeros((1, 3))]
    for name in poses:
        bodies = [_corners(shape) for shape in robot.tree.links[name].shapes]
        for points, _ in [b for b in bodies if b is not None] or _bars(robot, name):
            found.append(points @ poses[name][:3, :3].T + poses[name][:3, 3])
    return np.concatenate(found)


_Body = tuple[Floats, tuple[tuple[int, ...], ...]]


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


_BOX_FACES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
_ROUND = 28


def _corners(shape: Shape) -> _Body | None:
    """Points of a shape in its link's frame, and its flat faces seen anticlockwise from outside."""
    faces: tuple[tuple[int, ...], ...] = ()
    if shape.kind is ShapeKind.BOX:
        points, faces = _box(np.asarray(shape.size, dtype=np.float64) / 2.0), _BOX_FACES
    elif shape.kind is ShapeKind.CYLINDER:
        radius, length = shape.size[0], shape.size[1]
        turn = np.arange(_ROUND) * 2.0 * pi / _ROUND
        ring = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)
        points = np.concatenate(
            [np.c_[ring, np.full(_ROUND, -length / 2)], np.c_[ring, np.full(_ROUND, length / 2)]]
        )
        faces = (tuple(range(_ROUND - 1, -1, -1)), tuple(range(_ROUND, 2 * _ROUND)))
    elif shape.kind is ShapeKind.SPHERE:
        points = _ball(shape.size[0])
    else:
        mesh = _mesh_points(str(shape.mesh), shape.size)
        if mesh is None:
            return None
        points = mesh
    return points @ shape.placement[:3, :3].T + shape.placement[:3, 3], faces


def _box(half: Floats) -> Floats:
    signs = np.array([[x, y, z] for z in (-1, 1) for y in (-1, 1) for x in (-1, 1)])
    return np.asarray(signs * half, dtype=np.float64)


def _ball(radius: float) -> Floats:
    turn = np.arange(_ROUND) * 2.0 * pi / _ROUND
    rings = []
    for tilt in np.arange(1, 12) * pi / 12.0:
        rings.append(
            np.stack(
                [
                    np.sin(tilt) * np.cos(turn),
                    np.sin(tilt) * np.sin(turn),
                    np.full(_ROUND, np.cos(tilt)),
                ],
                axis=-1,
            )
        )
    return np.asarray(np.concatenate(rings) * radius, dtype=np.float64)


@lru_cache(maxsize=64)
def _mesh_points(path: str, scale: tuple[float, ...]) -> Floats | None:
    """Convex hull corners of a mesh file; None where it cannot be read."""
    try:
        import trimesh

        mesh = trimesh.load(path, force="mesh")
        points = np.asarray(mesh.convex_hull.vertices, dtype=np.float64)
    except Exception:  # whatever a mesh reader throws, the drawing goes on without that shape
        return None
    return np.asarray(points * np.asarray(scale), dtype=np.float64) if len(points) else None


def _bars(robot: Robot, link: str) -> list[_Body]:
    """Thin bars from a link's frame to the joints that it carries."""
    bars: list[_Body] = []
    for name in robot.tree.child_joints.get(link, ()):
        end = robot.tree.joints[name].placement[:3, 3]
        length = float(np.linalg.norm(end))
        if length > 1e-4:
            along = end / length
            aside = np.cross(along, [0.0, 0.0, 1.0] if abs(along[2]) < 0.9 else [1.0, 0.0, 0.0])
            aside *= 0.03 * length / np.linalg.norm(aside)
            up = np.cross(along, aside)
            ring = np.array([aside, up, -aside, -up])
            bars.append((np.concatenate([ring, ring + end]), ()))
    return bars


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
