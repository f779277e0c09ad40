"""Plane geometry of outlines: convex polygons, segments, polylines."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import cos, hypot, sin

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats
from legwright.views.ink import Point

Flags = NDArray[np.bool_]

ROUND = 8
"""Corners from which on an outline counts as round."""


class Ring:
    """A closed outline by its arc length."""

    def __init__(self, outline: Sequence[Point]) -> None:
        area = sum(a[0] * b[1] - b[0] * a[1] for a, b in edges(outline))
        self.corners = list(outline) if area > 0.0 else list(outline)[::-1]
        self.sides = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in edges(self.corners)]
        self.length = sum(self.sides)

    def towards(self, x: float, y: float, angle: float) -> float:
        """Arc length where a ray from inside leaves."""
        dx, dy = cos(angle), sin(angle)
        run = 0.0
        for (a, b), side in zip(edges(self.corners), self.sides, strict=True):
            ex, ey = b[0] - a[0], b[1] - a[1]
            det = dx * ey - dy * ex
            if abs(det) > 1e-12:
                t = ((a[0] - x) * ey - (a[1] - y) * ex) / det
                u = ((a[0] - x) * dy - (a[1] - y) * dx) / det
                if t > 0.0 and -1e-9 <= u <= 1.0 + 1e-9:
                    return run + min(max(u, 0.0), 1.0) * side
            run += side
        return 0.0

    def at(self, place: float) -> tuple[Point, Point]:
        """Point and outward unit vector; kept a little off the corners of angular outlines."""
        left = place % self.length
        if len(self.corners) >= ROUND:
            return self._round(left)
        for (a, b), side in zip(edges(self.corners), self.sides, strict=True):
            if left <= side:
                edge = min(0.6, side / 4.0)
                share = min(max(left, edge), side - edge) / side
                tx, ty = (b[0] - a[0]) / side, (b[1] - a[1]) / side
                point = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
                return point, (ty, -tx)
            left -= side
        return self.corners[0], (0.0, -1.0)

    def _round(self, left: float) -> tuple[Point, Point]:
        """A point of a round outline, and the direction away from its middle."""
        count = len(self.corners)
        cx, cy = sum(p[0] for p in self.corners) / count, sum(p[1] for p in self.corners) / count
        x, y = self.corners[0]
        for (a, b), side in zip(edges(self.corners), self.sides, strict=True):
            if left <= side:
                x, y = a[0] + left / side * (b[0] - a[0]), a[1] + left / side * (b[1] - a[1])
                break
            left -= side
        far = hypot(x - cx, y - cy)
        return (x, y), ((x - cx) / far, (y - cy) / far)


def edges(corners: Sequence[Point]) -> list[tuple[Point, Point]]:
    """Sides of a closed outline."""
    return list(zip(corners, [*corners[1:], corners[0]], strict=True))


def grown(outline: Sequence[Point], by: float) -> list[Point]:
    """A convex outline with every side moved outward."""
    corners = Ring(outline).corners
    sides = []
    for a, b in edges(corners):
        length = hypot(b[0] - a[0], b[1] - a[1])
        sides.append(((b[1] - a[1]) / length, (a[0] - b[0]) / length, a))
    found = []
    for (n0x, n0y, a), (n1x, n1y, b) in zip([sides[-1], *sides[:-1]], sides, strict=True):
        c0, c1 = n0x * a[0] + n0y * a[1] + by, n1x * b[0] + n1y * b[1] + by
        det = n0x * n1y - n0y * n1x
        if abs(det) > 1e-9:
            found.append(((c0 * n1y - c1 * n0y) / det, (n0x * c1 - n1x * c0) / det))
    return found


def planes_of(corners: Sequence[Point]) -> Floats:
    """Half planes n . p <= c of a convex outline, (E, 3)."""
    rows = []
    for a, b in edges(corners):
        length = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
        nx, ny = (b[1] - a[1]) / length, (a[0] - b[0]) / length
        rows.append((nx, ny, nx * a[0] + ny * a[1]))
    return np.array(rows)


def inside(points: Floats, planes: Floats) -> Flags:
    """Which points, (N, 2), lie inside a convex polygon."""
    if len(points) == 0:
        return np.zeros(0, dtype=bool)
    return np.asarray((points @ planes[:, :2].T < planes[:, 2] - 1e-9).all(axis=1))


def crosses(start: Floats, end: Floats, planes: Floats) -> Flags:
    """Which segments pass through the inside of a convex polygon (Cyrus and Beck)."""
    way = end - start
    over = planes[:, 2] - start @ planes[:, :2].T
    rate = way @ planes[:, :2].T
    with np.errstate(divide="ignore", invalid="ignore"):
        t = over / rate
    enter = np.where(rate < -1e-12, t, -np.inf).max(axis=1)
    leave = np.where(rate > 1e-12, t, np.inf).min(axis=1)
    outside = ((np.abs(rate) <= 1e-12) & (over <= 1e-9)).any(axis=1)
    low, high = np.maximum(enter, 0.0), np.minimum(leave, 1.0)
    return np.asarray((high - low > 1e-9) & ~outside)


def length_of(way: Sequence[Point]) -> float:
    """Length of a polyline [mm]."""
    return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(way))


def segment_distance(a: Point, b: Point, c: Point, d: Point) -> float:
    """Least distance of two segments; 0 where they cross [mm]."""
    if _side(a, b, c) * _side(a, b, d) < 0.0 and _side(c, d, a) * _side(c, d, b) < 0.0:
        return 0.0
    return min(_to(a, c, d), _to(b, c, d), _to(c, a, b), _to(d, a, b))


def _side(a: Point, b: Point, p: Point) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _to(p: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = dx * dx + dy * dy
    t = 0.0 if length == 0.0 else min(max(((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length, 0), 1)
    return hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)


def bounds_of(outline: Sequence[Point]) -> tuple[float, float, float, float]:
    """Least and greatest x and y of some points: left, top, right, bottom."""
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    return min(xs), min(ys), max(xs), max(ys)
