"""Laying out a harness on paper: cables around parts, labels beside cables. Pure geometry.

Parts are convex polygons. Each cable starts and ends square to the outlines of its two parts
and otherwise takes the shortest way that keeps clear of every part (visibility graph over
the corners of the outlines grown by the clearance).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, hypot, pi, sin

import numpy as np

from legwright.robot.tree import Floats
from legwright.views.ink import Point
from legwright.views.plane import (
    Ring,
    bounds_of,
    crosses,
    grown,
    inside,
    length_of,
    planes_of,
    segment_distance,
)

CLEARANCE = 1.1
"""Between cables and the outlines of parts [mm]."""
LANE = 0.9
"""Further out for each cable that would lie on another [mm]."""
LANES = 4
SPACING = 2.6
"""Between the sockets of one part [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part as it lies on paper."""

    name: str
    outline: tuple[Point, ...]
    """Convex, in order [mm]."""

    @property
    def centre(self) -> Point:
        """Mean of its corners [mm]."""
        count = len(self.outline)
        return (sum(p[0] for p in self.outline) / count, sum(p[1] for p in self.outline) / count)


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """A cable to be laid."""

    name: str
    start: str
    """Name of a part."""
    end: str


def box(name: str, x: float, y: float, width: float, height: float) -> Part:
    """An upright rectangle by its centre [mm]."""
    w, h = width / 2.0, height / 2.0
    return Part(name=name, outline=((x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h)))


def disc(name: str, x: float, y: float, radius: float, corners: int = 8) -> Part:
    """A circle by its centre, as a polygon around it [mm]."""
    far = radius / cos(pi / corners)
    turn = [2.0 * pi * (k + 0.5) / corners for k in range(corners)]
    return Part(name=name, outline=tuple((x + far * cos(a), y + far * sin(a)) for a in turn))


def free_spot(
    near: Point,
    size: tuple[float, float],
    taken: Iterable[Part],
    bounds: tuple[float, float, float, float],
    *,
    gap: float,
) -> Point | None:
    """The nearest centre at which an upright box keeps a gap from all parts.

    Args:
        near: Where it would like to be [mm].
        size: Its width and height [mm].
        taken: Parts that are there.
        bounds: left, top, right, bottom [mm].
        gap: [mm]

    Returns:
        Centre, or None where nothing is free.
    """
    boxes = [bounds_of(part.outline) for part in taken]
    half = (size[0] / 2.0, size[1] / 2.0)
    for step in range(90):
        radius = 1.5 * step
        for k in range(1 if step == 0 else 32):
            angle = pi / 2.0 + 2.0 * pi * k / 32.0
            x, y = near[0] + radius * cos(angle), near[1] + radius * sin(angle)
            if not (bounds[0] + half[0] <= x <= bounds[2] - half[0]):
                continue
            if not (bounds[1] + half[1] <= y <= bounds[3] - half[1]):
                continue
            if all(
                x + half[0] + gap <= b[0]
                or b[2] + gap <= x - half[0]
                or y + half[1] + gap <= b[1]
                or b[3] + gap <= y - half[1]
                for b in boxes
            ):
                return (x, y)
    return None


def routes(parts: Sequence[Part], joins: Sequence[Join]) -> dict[str, tuple[Point, ...]]:
    """A way for each cable.

    Args:
        parts: All parts; they may touch nothing but their own cables.
        joins: The cables.

    Returns:
        Cable -> corners of its way, from outline to outline [mm]; left out where there is no
        way.
    """
    sockets = _sockets(parts, joins)
    hard = [planes_of(grown(part.outline, CLEARANCE * 0.6)) for part in parts]
    laid: dict[str, tuple[Point, ...]] = {}
    for join in sorted(joins, key=lambda join: _straight(parts, join)):
        way = _laid(parts, hard, sockets[join.name, 0], sockets[join.name, 1], laid.values())
        if way is not None:
            laid[join.name] = way
    return {join.name: laid[join.name] for join in joins if join.name in laid}


_Socket = tuple[Point, Point]
"""A point on an outline and the unit vector square to it, outward."""


def _laid(
    parts: Sequence[Part],
    hard: Sequence[Floats],
    start: _Socket,
    end: _Socket,
    others: Iterable[Sequence[Point]],
) -> tuple[Point, ...] | None:
    """The cheapest of some ways: short, and meeting few others."""
    others = tuple(others)
    direct = _direct(hard, start, end)
    if direct is not None and not _meetings(direct, others):
        return direct
    best = None if direct is None else (_cost(direct, others), direct)
    near = [part for part in parts if _close(part, start[0], end[0])]
    for some in (near, parts):
        for lane in range(LANES):
            way = _Grid(some, CLEARANCE + LANE * lane).way(start, end)
            if way is None or _blocked(hard, way):
                continue
            cost = _cost(way, others)
            if best is None or cost < best[0] - 1e-9:
                best = (cost, way)
            if best[0] < length_of(way) + 1e-9:
                break
        if best is not None:
            return best[1]
    return None


def _cost(way: Sequence[Point], others: Iterable[Sequence[Point]]) -> float:
    return length_of(way) + 30.0 * _meetings(way, others)


def _close(part: Part, a: Point, b: Point) -> bool:
    """Whether a part lies near the way between two points."""
    reach = 0.25 * hypot(b[0] - a[0], b[1] - a[1]) + 14.0
    return segment_distance(part.centre, part.centre, a, b) < reach


def _tip(socket: _Socket) -> Point:
    (x, y), (nx, ny) = socket
    return (x + CLEARANCE * nx, y + CLEARANCE * ny)


def _direct(hard: Sequence[Floats], start: _Socket, end: _Socket) -> tuple[Point, ...] | None:
    way = (start[0], _tip(start), _tip(end), end[0])
    return None if _blocked(hard, way) else way


def _blocked(hard: Sequence[Floats], way: Sequence[Point]) -> bool:
    """Whether a way, its two ends aside, comes too close to a part."""
    a, b = np.array(way[1:-2]), np.array(way[2:-1])
    return any(bool(crosses(a, b, planes).any()) for planes in hard)


def _straight(parts: Sequence[Part], join: Join) -> float:
    at = {part.name: part.centre for part in parts}
    (x0, y0), (x1, y1) = at[join.start], at[join.end]
    return hypot(x1 - x0, y1 - y0)


# -- sockets -------------------------------------------------------------------------------


def _sockets(
    parts: Sequence[Part], joins: Sequence[Join]
) -> dict[tuple[str, int], tuple[Point, Point]]:
    """(cable, end) -> point on the outline, and unit vector square to it, outward."""
    by_name = {part.name: part for part in parts}
    found: dict[tuple[str, int], tuple[Point, Point]] = {}
    for part in parts:
        wanted: list[tuple[float, tuple[str, int]]] = []
        ring = Ring(part.outline)
        for join in joins:
            for end, (own, other) in enumerate(((join.start, join.end), (join.end, join.start))):
                if own == part.name:
                    (x, y), (tx, ty) = part.centre, by_name[other].centre
                    wanted.append((ring.towards(x, y, atan2(ty - y, tx - x)), (join.name, end)))
        wanted.sort(key=lambda each: (each[0], each[1]))
        for place, (_, key) in zip(_spread([w[0] for w in wanted], ring), wanted, strict=True):
            found[key] = ring.at(place)
    return found


def _spread(places: list[float], ring: Ring) -> list[float]:
    """Places along a closed outline pushed apart to `SPACING`, or evenly where it is short."""
    count = len(places)
    least = min(SPACING, ring.length / max(count, 1))
    spots = list(places)
    for _ in range(200):
        moved = False
        for k in range(count if count > 1 else 0):
            nxt = (k + 1) % count
            apart = spots[nxt] - spots[k] + (ring.length if nxt == 0 else 0.0)
            if apart < least - 1e-6:
                push = (least - apart) / 2.0
                spots[k] -= push
                spots[nxt] += push
                moved = True
        if not moved:
            break
    return spots


# -- ways ----------------------------------------------------------------------------------


class _Grid:
    """The visibility graph at one clearance."""

    def __init__(self, parts: Sequence[Part], clearance: float) -> None:
        self.clearance = clearance
        self.hard = [planes_of(grown(part.outline, CLEARANCE * 0.6)) for part in parts]
        rings = [grown(part.outline, clearance) for part in parts]
        corners = np.array([p for ring in rings for p in ring]).reshape(-1, 2)
        covered = np.zeros(len(corners), dtype=bool)
        for planes in self.hard:
            covered |= inside(corners, planes)
        self.corners = corners[~covered]
        self.seen = self._visible(self.corners, self.corners)

    def way(self, start: tuple[Point, Point], end: tuple[Point, Point]) -> tuple[Point, ...] | None:
        """The shortest way between two sockets; None where there is none."""
        tips = np.array([_tip(start), _tip(end)])
        nodes = np.concatenate([tips, self.corners])
        cost = np.full((len(nodes), len(nodes)), np.inf)
        cost[2:, 2:] = self.seen
        cost[:2, :] = self._visible(tips, nodes)
        cost[:, :2] = cost[:2, :].T
        path = _shortest(cost)
        if path is None:
            return None
        middle = [(float(nodes[k, 0]), float(nodes[k, 1])) for k in path]
        return (start[0], *middle, end[0])

    def _visible(self, a: Floats, b: Floats) -> Floats:
        """Distances between points that see each other, inf elsewhere."""
        start = np.repeat(a, len(b), axis=0)
        end = np.tile(b, (len(a), 1))
        blocked = np.zeros(len(start), dtype=bool)
        for planes in self.hard:
            blocked |= crosses(start, end, planes)
        far = np.hypot(*(end - start).T)
        return np.where(blocked, np.inf, far).reshape(len(a), len(b))


def _shortest(cost: Floats) -> list[int] | None:
    """Nodes from node 0 to node 1 (Dijkstra, dense)."""
    count = len(cost)
    best, before = np.full(count, np.inf), np.full(count, -1)
    done = np.zeros(count, dtype=bool)
    best[0] = 0.0
    for _ in range(count):
        at = int(np.argmin(np.where(done, np.inf, best)))
        if done[at] or not np.isfinite(best[at]):
            return None
        if at == 1:
            path = [1]
            while path[-1] != 0:
                path.append(int(before[path[-1]]))
            return path[::-1]
        done[at] = True
        through = best[at] + cost[at]
        better = through < best - 1e-12
        best[better], before[better] = through[better], at
    return None


def _meetings(way: Sequence[Point], others: Iterable[Sequence[Point]]) -> int:
    """How many segments of other ways cross a way or lie on it."""
    count = 0
    for other in others:
        for a, b in pairwise(way):
            for c, d in pairwise(other):
                count += segment_distance(a, b, c, d) < 0.5
    return count
