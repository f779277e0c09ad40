"""How near a moving link comes to a surface, hollow or not."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.fabrication._gap_kernel import (
    BOX,
    CYLINDER,
    HULL,
    POINT,
    triangle_gap,
)
from legwright.fabrication._least_gap_kernel import least_gaps, least_over_ranges
from legwright.fabrication.mesh import Indices
from legwright.fabrication.rays import BoxTree
from legwright.fabrication.way_between import Way
from legwright.robot.hulls import hull_points
from legwright.robot.tree import Floats, Shape, ShapeKind, read_only

FAR = 0.5
"""Distances beyond this are not measured [m]."""

MOST_PIECES = 3
"""Into which a long shape is cut."""
FLAT = 1e-6
"""Half length below which a cylinder is a disc [m]."""
SIGNS = np.array([[x, y, z] for z in (-1.0, 1.0) for y in (-1.0, 1.0) for x in (-1.0, 1.0)])
"""Corners of a box of edge 2, (8, 3)."""

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
    ends: Floats
    """Points whose hull holds it, in its link's frame, (K, 3) [m]; the middle of a ball; of a
    cylinder the middles of its ends."""
    around: float
    """Radius of a cylinder about the way between its ends, else 0 [m]."""


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
    corners = b"" if shape.mesh is None else hull_points(shape.mesh, shape.size).tobytes()
    return _body_of(shape.kind, shape.size, corners, shape.placement.tobytes())


@lru_cache(maxsize=64)
def _body_of(kind: ShapeKind, extent: tuple[float, ...], corners: bytes, placement: bytes) -> Body:
    """The same by a shape's content: links of legs are alike, and outlast edits of others."""
    size, radius, hull = np.zeros(3), 0.0, _NO_HULL
    if kind is ShapeKind.SPHERE:
        core, radius = POINT, extent[0]
    elif kind is ShapeKind.BOX:
        core, size = BOX, 0.5 * np.asarray(extent, dtype=np.float64)
    elif kind is ShapeKind.CYLINDER:
        core, size = CYLINDER, np.array([extent[0], 0.5 * extent[1], 0.0])
    else:
        core, hull = HULL, np.frombuffer(corners).reshape(-1, 3).copy()
    at = read_only(np.frombuffer(placement).reshape(4, 4))
    return _body(core, size, float(radius), hull, at)


def hull_of(points: Floats) -> Body:
    """The convex hull of points (H, 3) in their link's frame [m]."""
    return _body(HULL, np.zeros(3), 0.0, points, np.eye(4))


def _body(kind: int, size: Floats, radius: float, hull: Floats, placement: Floats) -> Body:
    ends, around = np.zeros((1, 3)), 0.0
    if kind == BOX:
        ends = SIGNS * size
    elif kind == CYLINDER and size[1] < FLAT:  # a disc lies on no way between its ends
        ends = SIGNS * size[[0, 0, 1]]
    elif kind == CYLINDER:
        ends, around = size[1] * np.array([[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]]), float(size[0])
    elif kind == HULL and len(hull) <= len(SIGNS):
        ends = hull
    elif kind == HULL:
        low, high = hull.min(axis=0), hull.max(axis=0)
        ends = 0.5 * (low + high) + SIGNS * 0.5 * (high - low)
    return Body(
        kind=kind,
        size=read_only(size),
        radius=radius,
        hull=read_only(hull),
        placement=placement,
        ends=read_only(np.einsum("ij,kj->ki", placement[:3, :3], ends) + placement[:3, 3]),
        around=around,
    )


@lru_cache(maxsize=64)
def pieces(body: Body) -> tuple[Body, ...]:
    """A long box or cylinder cut across into a few shorter ones; else the body itself.

    Their ends lie at other distances from the joints, so that each has less room to move in
    than the whole.

    Args:
        body: The body.
    """
    if body.kind == BOX:
        axis = along = int(np.argmax(body.size))
        across = float(np.sort(body.size)[1])
    elif body.kind == CYLINDER:
        axis, along, across = 2, 1, float(body.size[0])
    else:
        return (body,)
    length = float(body.size[along])
    count = min(MOST_PIECES, int(np.ceil(length / across))) if across > 0.0 else 1
    size = np.array(body.size)
    size[along] = length / count
    found = []
    for number in range(count):
        placement = np.array(body.placement)
        placement[:3, 3] += placement[:3, axis] * length * ((2 * number + 1) / count - 1.0)
        found.append(_body(body.kind, size, body.radius, body.hull, read_only(placement)))
    return tuple(found)


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
    distance, t, triangle = nearest_placed(tree, body, *placed(body, poses), most=most)
    if t < 0:
        return Gap(distance=np.inf, pose=-1, points=read_only(np.full((2, 3), np.nan)))
    return Gap(
        distance=distance, pose=t, points=nearest_points(tree.corners[triangle], body, poses[t])
    )


def nearest_placed(
    tree: BoxTree, body: Body, centre: Floats, turn: Floats, *,
    which: int = 0, order: Indices | None = None, spare: float = 0.0, most: float = FAR,
) -> tuple[float, int, int]:  # fmt: skip
    """As `gap`, of one of several shapes whose own places and orientations are known.

    Args:
        tree: Over the surface.
        body: The shape.
        centre: Places of all shapes in the surface's frame, (T, S, 3) [m].
        turn: Their orientations, row by row, (T, S, 9).
        which: Which of them is meant.
        order: The poses that are looked at; all, one after the other, when None.
        spare: How much farther it is looked, so that poses like the last may be passed over: of
            use where the order brings like ones together [m].
        most: Larger distances are not looked for [m].

    Returns:
        The least distance [m], pose and triangle; inf, -1 and -1 where there is none.
    """
    best, at = np.full(1, np.inf), np.full((1, 2), -1, dtype=np.int64)
    least_gaps(
        tree.low, tree.high, tree.corners, body.kind, body.size, body.radius, body.hull,
        centre, turn, which, np.arange(len(centre)) if order is None else order, spare, most, 0,
        best, at,
    )  # fmt: skip
    t, triangle = at[0].tolist()
    return float(best[0]), t, triangle


def gaps(tree: BoxTree, body: Body, poses: Floats, *, most: float = FAR) -> Floats:
    """The distance of a shape from a surface in every pose, (T,) [m]; as `gap`.

    Args:
        tree: Over the surface.
        body: The shape.
        poses: Of its link in the surface's frame, (T, 4, 4).
        most: Larger distances are not looked for [m].
    """
    centre, turn = placed(body, poses)
    best, at = np.full(len(poses), np.inf), np.full((len(poses), 2), -1, dtype=np.int64)
    least_gaps(
        tree.low, tree.high, tree.corners, body.kind, body.size, body.radius, body.hull,
        centre, turn, 0, np.arange(len(poses)), 0.0, most, 1, best, at,
    )  # fmt: skip
    return best


def ranged_gap(
    tree: BoxTree, body: Body, way: Way, *, most: float, exact: float, poses: int
) -> tuple[float, Floats, float]:
    """The least distance of a shape from a surface over the whole ranges of the joints between.

    Args:
        tree: Over the surface.
        body: The shape.
        way: From the surface's link to that of the shape.
        most: Larger distances are not looked for [m].
        exact: What no pose goes below may lie so much lower [m].
        poses: Tried before the search ends with less.

    Returns:
        The distance [m], inf where there is none; values of the way's drives there, (drives,);
        and what no pose goes below [m].
    """
    at = np.empty(len(way.drives))
    best, floor, found = least_over_ranges(
        tree.low, tree.high, tree.corners, body.kind, body.size, body.radius, body.hull,
        body.placement, body.ends, body.around, way.packed, way.lower, way.upper,
        most, exact, poses, at,
    )  # fmt: skip
    return (best if found else np.inf), at, floor


def inside(body: Body, points: Floats, poses: Floats) -> Floats:
    """How deep points lie in a shape at most over all poses, (N,) [m]; negative outside.

    Args:
        body: The shape.
        points: In the surface's frame, (N, 3) [m].
        poses: Of its link there, (T, 4, 4).
    """
    shape = poses @ body.placement
    deepest = np.full(len(points), -np.inf)
    planes = _planes(body.hull) if body.kind == HULL else None
    for c, R in zip(shape[:, :3, 3], shape[:, :3, :3], strict=True):
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


def placed(body: Body, poses: Floats) -> tuple[Floats, Floats]:
    """Places (T, 1, 3) and orientations (T, 1, 9) of a body where its link is at ``poses``."""
    shape = poses @ body.placement
    return shape[:, None, :3, 3].copy(), shape[:, None, :3, :3].reshape(-1, 1, 9)


def nearest_points(triangle: Floats, body: Body, pose: Floats) -> Floats:
    """Nearest points on a triangle and on a shape.

    Args:
        triangle: (3, 3) [m].
        body: The shape.
        pose: Of its link in the triangle's frame, (4, 4).

    Returns:
        (2, 3) in the triangle's frame [m].
    """
    shape = pose @ body.placement
    centre, turn = shape[:3, 3], shape[:3, :3]
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
