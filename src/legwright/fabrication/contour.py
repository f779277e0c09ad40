"""Closed outlines of straight lines and circular arcs, measured exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import acos, atan, ceil, cos, hypot, sin
from typing import NamedTuple

import numpy as np

from legwright.errors import RequestError
from legwright.robot.tree import Floats

Point = tuple[float, float]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
"""Integrates trigonometric cubes over half a turn to the last digit."""


class Arc(NamedTuple):
    """A circular arc, counter-clockwise from `start` over `turn`, or clockwise if negative."""

    centre: Point
    radius: float
    start: float
    """Direction from the centre to the first point [rad]."""
    turn: float
    """[rad]"""


class Moments(NamedTuple):
    """Integrals over an area."""

    area: float
    """[m²]"""
    x: float
    """∫x dA [m³]"""
    y: float
    xx: float
    """∫x² dA [m⁴]"""
    yy: float
    xy: float

    def less(self, other: Moments) -> Moments:
        """These with others taken away."""
        return Moments(*(a - b for a, b in zip(self, other, strict=True)))

    @property
    def centroid(self) -> Point:
        """Centre of the area [m]."""
        return self.x / self.area, self.y / self.area


@dataclass(frozen=True, kw_only=True)
class Contour:
    """A closed outline; counter-clockwise."""

    points: tuple[Point, ...]
    """Where pieces meet [m]."""
    bulges: tuple[float, ...]
    """For the piece after each point: tangent of a quarter of its included angle, positive
    counter-clockwise, 0 for a straight line; as drawing exchange files have it."""

    @cached_property
    def pieces(self) -> tuple[tuple[Point, Point, Arc | None], ...]:
        """Each piece: its ends, and its arc if it is one."""
        ends = (*self.points[1:], self.points[0])
        return tuple(
            (a, b, _arc(a, b, bulge) if bulge else None)
            for a, b, bulge in zip(self.points, ends, self.bulges, strict=True)
        )

    @cached_property
    def moments(self) -> Moments:
        """Area and its first and second moments, about the origin.

        Source: Green's theorem, piece by piece.
        """
        return _moments(self)

    @cached_property
    def narrowest(self) -> float:
        """Shorter side of the smallest rectangle around it [m]."""
        return _narrowest(self)

    @cached_property
    def length(self) -> float:
        """Around the outline [m]."""
        return sum(
            hypot(b[0] - a[0], b[1] - a[1]) if arc is None else arc.radius * abs(arc.turn)
            for a, b, arc in self.pieces
        )

    def polygon(self, chord: float = 1e-5) -> list[Point]:
        """Corners of a polygon that keeps close to the outline.

        Args:
            chord: Largest distance of its sides from the arcs [m].

        Returns:
            Corners on the outline.
        """
        corners: list[Point] = []
        for a, _, arc in self.pieces:
            corners.append(a)
            if arc is None:
                continue
            step = 2.0 * acos(max(1.0 - chord / arc.radius, -1.0))
            count = max(2, ceil(abs(arc.turn) / step))
            for k in range(1, count):
                angle = arc.start + arc.turn * k / count
                corners.append(
                    (
                        arc.centre[0] + arc.radius * cos(angle),
                        arc.centre[1] + arc.radius * sin(angle),
                    )
                )
        return corners


@lru_cache(maxsize=1024)
def _moments(contour: Contour) -> Moments:
    """See `Contour.moments`; remembered, since most edits leave most outlines as they were."""
    total = np.zeros(6)
    for a, b, arc in contour.pieces:
        x, y, dx, dy = _along(a, b, arc)
        total += np.array(
            [
                0.5 * (x * dy - y * dx).sum(),
                0.5 * (x**2 * dy).sum(),
                -0.5 * (y**2 * dx).sum(),
                (x**3 * dy).sum() / 3.0,
                -(y**3 * dx).sum() / 3.0,
                0.5 * (x**2 * y * dy).sum(),
            ]
        )
    return Moments(*total.tolist())


@lru_cache(maxsize=1024)
def _narrowest(contour: Contour) -> float:
    """See `Contour.narrowest`: a side of that rectangle lies on one of the convex hull.

    Source: Freeman and Shapira, Commun. ACM 18(7):409-413, 1975 (from memory).
    """
    from shapely.geometry import Polygon

    corners = np.asarray(Polygon(contour.polygon(1e-6)).convex_hull.exterior.coords)
    along = np.diff(corners, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    sides = np.stack([np.ptp(corners @ ways.T, axis=0) for ways in (along, across)])
    return float(sides[:, np.argmin(sides[0] * sides[1])].min())


def _along(a: Point, b: Point, arc: Arc | None) -> tuple[Floats, Floats, Floats, Floats]:
    """Points of a piece at Gauss's nodes and their weighted steps."""
    half = 0.5 * (_NODES + 1.0)
    if arc is None:
        dx, dy = b[0] - a[0], b[1] - a[1]
        weight = 0.5 * _WEIGHTS
        return a[0] + dx * half, a[1] + dy * half, dx * weight, dy * weight
    angle = arc.start + arc.turn * half
    weight = 0.5 * _WEIGHTS * arc.turn * arc.radius
    x = arc.centre[0] + arc.radius * np.cos(angle)
    y = arc.centre[1] + arc.radius * np.sin(angle)
    return x, y, -np.sin(angle) * weight, np.cos(angle) * weight


def _arc(a: Point, b: Point, bulge: float) -> Arc:
    """The arc of a bulge; sagitta over half the chord is |bulge|."""
    turn = 4.0 * atan(bulge)
    dx, dy = b[0] - a[0], b[1] - a[1]
    chord = hypot(dx, dy)
    radius = chord * (1.0 + bulge**2) / (4.0 * abs(bulge))
    off = (1.0 - bulge**2) / (4.0 * bulge)
    centre = ((a[0] + b[0]) / 2.0 - off * dy, (a[1] + b[1]) / 2.0 + off * dx)
    start = float(np.arctan2(a[1] - centre[1], a[0] - centre[0]))
    return Arc(centre, radius, start, turn)


def circle(centre: Point, diameter: float) -> Contour:
    """A whole circle as two half turns.

    Args:
        centre: [m].
        diameter: > 0 [m].
    """
    half = diameter / 2.0
    return Contour(
        points=((centre[0] - half, centre[1]), (centre[0] + half, centre[1])), bulges=(1.0, 1.0)
    )


@dataclass(frozen=True, kw_only=True)
class Rounded:
    """A polygon with rounded corners; counter-clockwise."""

    corners: tuple[Point, ...]
    """[m]"""
    radii: tuple[float, ...]
    """Wanted radius of each corner; it gets less where its sides are too short [m]."""
    fitted: bool = False
    """Whether the radii are known to fit: those of an outline moved as a whole."""

    @cached_property
    def contour(self) -> Contour:
        """The outline with arcs tangent to the sides."""
        points: list[Point] = []
        bulges: list[float] = []
        for (before, at, after), radius in zip(self._triples, self.held, strict=True):
            turn = _turning(before, at, after)
            if radius <= 0.0 or abs(turn) < 1e-9:
                points.append(at)
                bulges.append(0.0)
                continue
            cut = radius * abs(np.tan(turn / 2.0))
            points += [_towards(at, before, cut), _towards(at, after, cut)]
            bulges += [float(np.tan(turn / 4.0)), 0.0]
        return Contour(points=tuple(points), bulges=tuple(bulges))

    @cached_property
    def held(self) -> tuple[float, ...]:
        """The radius that each corner gets [m]: of each side, a corner takes at most its share."""
        if self.fitted:
            return self.radii
        found = []
        for (before, at, after), radius in zip(self._triples, self.radii, strict=True):
            slope = abs(np.tan(_turning(before, at, after) / 2.0))
            side = min(_far(before, at), _far(at, after))
            found.append(min(radius, 0.499 * side / slope) if slope > 1e-12 else 0.0)
        return tuple(float(each) for each in found)

    @property
    def _triples(self) -> list[tuple[Point, Point, Point]]:
        ring = self.corners
        return [
            (ring[k - 1], ring[k], ring[(k + 1) % len(ring)]) for k in range(len(ring))
        ]  # fmt: skip

    def grown(self, by: float) -> Rounded:
        """The outline moved outward by a distance, corners with it: exact for tangent arcs.

        Args:
            by: Negative: inward [m].

        Raises:
            RequestError: where a corner's radius is too small to move so far.
        """
        radii, corners = [], []
        for (before, at, after), radius in zip(self._triples, self.held, strict=True):
            turn = _turning(before, at, after)
            moved = radius + (by if turn > 0.0 else -by)
            if radius > 0.0 and moved < -1e-12:
                raise RequestError(
                    "kerf", f"{2e3 * abs(by):.3g} mm",
                    f"at most {2e3 * radius:.3g} mm: a corner has a radius of "
                    f"{1e3 * radius:.3g} mm",
                )  # fmt: skip
            radii.append(max(moved, 0.0) if radius > 0.0 else 0.0)
            corners.append(_moved(before, at, after, by))
        return Rounded(corners=tuple(corners), radii=tuple(radii), fitted=True)


def _far(a: Point, b: Point) -> float:
    return hypot(b[0] - a[0], b[1] - a[1])


def _towards(a: Point, b: Point, distance: float) -> Point:
    share = distance / _far(a, b)
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def _turning(before: Point, at: Point, after: Point) -> float:
    """Change of direction at a corner, positive to the left, −π to π [rad]."""
    ux, uy = at[0] - before[0], at[1] - before[1]
    vx, vy = after[0] - at[0], after[1] - at[1]
    return float(np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy))


def _moved(before: Point, at: Point, after: Point, by: float) -> Point:
    """Where the two sides of a corner meet, each moved outward (to the right)."""
    ux, uy = _unit(before, at)
    vx, vy = _unit(at, after)
    nx, ny = uy + vy, -(ux + vx)
    scale = by / max(1.0 + ux * vx + uy * vy, 1e-12)
    return at[0] + nx * scale, at[1] + ny * scale


def _unit(a: Point, b: Point) -> Point:
    far = _far(a, b)
    return (b[0] - a[0]) / far, (b[1] - a[1]) / far


def rectangle(
    centre: Point, length: float, width: float, *, radius: float = 0.0, turned: float = 0.0
) -> Rounded:
    """A rectangle with rounded corners.

    Args:
        centre: [m].
        length: Along its own x [m].
        width: Across [m].
        radius: Of its corners [m].
        turned: Direction of its x [rad].
    """
    c, s = cos(turned), sin(turned)
    corners = [
        (centre[0] + c * x - s * y, centre[1] + s * x + c * y)
        for x, y in (
            (-length / 2, -width / 2), (length / 2, -width / 2),
            (length / 2, width / 2), (-length / 2, width / 2),
        )
    ]  # fmt: skip
    return Rounded(corners=tuple(corners), radii=(radius,) * 4)


def left_wise(corners: Sequence[Point]) -> tuple[Point, ...]:
    """The corners counter-clockwise."""
    ring = list(corners)
    area = sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
    )  # fmt: skip
    return tuple(ring if area > 0.0 else reversed(ring))
