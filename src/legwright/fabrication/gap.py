"""How near a moving link comes to a surface, hollow or not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.fabrication._gap_kernel import (
    BOX,
    CYLINDER,
    HULL,
    POINT,
    least_gaps,
    triangle_gap,
)
from legwright.fabrication.rays import BoxTree
from legwright.robot.hulls import hull_points
from legwright.robot.tree import Floats, Shape, ShapeKind, read_only

FAR = 0.5
"""Distances beyond this are not measured [m]."""

_NO_HULL = np.zeros((0, 3))


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Body:
    """A convex shape as the kernels take it."""

    kind: int
    size: Floats
    """Half edges of a box; radius and half length of a cylinder, (3,) [m]."""
    radius: float
    """Around the core [m]."""
    hull: Floats
    """Corners of a hull, (H, 3) [m]."""
    placement: Floats
    """In its link, (4, 4)."""
    girth: float
    """Largest distance of its points from its placement's origin [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Gap:
    """Where a moving shape comes nearest to a surface."""

    distance: float
    """[m]; 0 where they meet, negative by the depth within a sphere; inf beyond `FAR`."""
    pose: int
    """Which of the poses; -1 for none."""
    points: Floats
    """On the surface and on the shape, in the surface's frame, (2, 3) [m]; nan for none."""


def body_of(shape: Shape) -> Body:
    """A link's shape, ready to be measured; a mesh counts as its convex hull.

    Raises:
        RobotError: if a mesh cannot be read.
    """
    size, radius, hull = np.zeros(3), 0.0, _NO_HULL
    if shape.kind is ShapeKind.SPHERE:
        kind, radius = POINT, shape.size[0]
        extent = radius
    elif shape.kind is ShapeKind.BOX:
        kind, size = BOX, 0.5 * np.asarray(shape.size, dtype=np.float64)
        extent = float(np.linalg.norm(size))
    elif shape.kind is ShapeKind.CYLINDER:
        kind, size = CYLINDER, np.array([shape.size[0], 0.5 * shape.size[1], 0.0])
        extent = float(np.linalg.norm(size))
    else:
        kind = HULL
        hull = _NO_HULL if shape.mesh is None else np.array(hull_points(shape.mesh, shape.size))
        extent = float(np.linalg.norm(hull, axis=1).max()) if len(hull) else 0.0
    return Body(
        kind=kind,
        size=read_only(size),
        radius=float(radius),
        hull=read_only(hull),
        placement=shape.placement,
        girth=extent,
    )


def gap(tree: BoxTree, body: Body, poses: Floats, *, most: float = FAR) -> Gap:
    """The least distance of a shape from a surface over all poses.

    Args:
        tree: Over the surface.
        body: The shape.
        poses: Of its link in the surface's frame, (T, 4, 4).
        most: Larger distances are not looked for [m].

    Returns:
        The nearest of all poses.
    """
    return gap_placed(tree, body, *_placed(body, poses), most=most)


def gap_placed(
    tree: BoxTree, body: Body, centre: Floats, turn: Floats, *, most: float = FAR
) -> Gap:
    """As `gap`, of a shape whose own places (T, 3) and orientations (T, 3, 3) are known."""
    best, at = np.full(1, np.inf), np.full((1, 2), -1, dtype=np.int64)
    least_gaps(
        tree.low, tree.high, tree.corners, body.kind, body.size, body.radius, body.hull,
        centre, turn, np.full(1, most), np.full(1, -np.inf), np.inf, 0, best, at,
    )  # fmt: skip
    t, triangle = (int(i) for i in at[0])
    if t < 0:
        return Gap(distance=np.inf, pose=-1, points=read_only(np.full((2, 3), np.nan)))
    points = _nearest(tree.corners[triangle], body, centre[t], turn[t])
    return Gap(distance=float(best[0]), pose=t, points=points)


def gaps(
    tree: BoxTree, body: Body, poses: Floats, *, most: Floats | float = FAR,
    enough: Floats | float = -np.inf, least: float = np.inf,
) -> Floats:  # fmt: skip
    """The distance of a shape from a surface in every pose, (T,) [m]; as `gap`.

    Args:
        tree: Over the surface.
        body: The shape.
        poses: Of its link in the surface's frame, (T, 4, 4).
        most: Larger distances are not looked for, () or (T,) [m].
        enough: Where one is less than this, () or (T,), it is only told exactly if it is less
            than ``least`` too, and is else some larger one that is less than ``enough`` [m].
        least: See ``enough`` [m].
    """
    centre, turn = _placed(body, poses)
    best, at = np.full(len(poses), np.inf), np.full((len(poses), 2), -1, dtype=np.int64)
    each = [np.array(np.broadcast_to(limit, len(poses)), np.float64) for limit in (most, enough)]
    least_gaps(
        tree.low, tree.high, tree.corners, body.kind, body.size, body.radius, body.hull,
        centre, turn, *each, float(least), 1, best, at,
    )  # fmt: skip
    return best


def inside(body: Body, points: Floats, poses: Floats) -> Floats:
    """How deep points lie in a shape at most over all poses, (N,) [m]; negative outside.

    Args:
        body: The shape.
        points: In the surface's frame, (N, 3) [m].
        poses: Of its link there, (T, 4, 4).
    """
    centre, turn = _placed(body, poses)
    deepest = np.full(len(points), -np.inf)
    planes = _planes(body.hull) if body.kind == HULL else None
    for c, R in zip(centre, turn, strict=True):
        deepest = np.maximum(deepest, _depth(body, (points - c) @ R, planes))
    return deepest


def _depth(body: Body, local: Floats, planes: Floats | None) -> Floats:
    if body.kind == POINT:
        return np.asarray(body.radius - np.linalg.norm(local, axis=1))
    if body.kind == BOX:
        return np.asarray((body.size - np.abs(local)).min(axis=1))
    if body.kind == CYLINDER:
        flat = body.size[0] - np.hypot(local[:, 0], local[:, 1])
        return np.asarray(np.minimum(flat, body.size[1] - np.abs(local[:, 2])))
    if planes is None:
        return np.full(len(local), -np.inf)
    return np.asarray(-(local @ planes[:, :3].T + planes[:, 3]).max(axis=1))


def _planes(hull: Floats) -> Floats | None:
    from scipy.spatial import ConvexHull

    return None if len(hull) < 4 else np.asarray(ConvexHull(hull).equations)


def _placed(body: Body, poses: Floats) -> tuple[Floats, Floats]:
    shape = poses @ body.placement
    return np.ascontiguousarray(shape[:, :3, 3]), np.ascontiguousarray(shape[:, :3, :3])


def nearest_points(triangle: Floats, body: Body, pose: Floats) -> Floats:
    """Nearest points on a triangle and on a shape.

    Args:
        triangle: (3, 3) [m].
        body: The shape.
        pose: Of its link in the triangle's frame, (4, 4).

    Returns:
        (2, 3) in the triangle's frame [m].
    """
    centre, turn = _placed(body, pose[None])
    return _nearest(triangle, body, centre[0], turn[0])


def _nearest(triangle: Floats, body: Body, centre: Floats, turn: Floats) -> Floats:
    """Nearest points on a triangle and on a shape, (2, 3)."""
    W, P, away = np.empty((4, 3)), np.empty((4, 3)), np.empty(3)
    local = np.ascontiguousarray((triangle - centre) @ turn)
    _, count = triangle_gap(local, body.kind, body.size, body.radius, body.hull, FAR, W, P, away)
    rows = np.concatenate([W[:count].T, np.ones((1, count))])
    share = np.linalg.lstsq(rows, np.append(away, 1.0), rcond=None)[0]
    there = share @ P[:count]
    length = float(np.linalg.norm(away))
    core = there - away
    edge = core + (body.radius / length * away if length > 0.0 else 0.0)
    return read_only(np.stack([there, edge]) @ turn.T + centre)
