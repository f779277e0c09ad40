"""Hatch as real lines, cut to an area (SVG patterns blur in print)."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, sqrt

Point = tuple[float, float]


def clip_lines(areas: Sequence[Sequence[Point]], gap: float) -> list[tuple[Point, Point]]:
    """Lines at 45°, rising to the right, inside an odd number of polygons.

    All areas share one line grid, so that neighbouring hatches join.

    Args:
        areas: Polygons by their corners, y down.
        gap: Distance between lines, > 0.

    Returns:
        End points of each piece of line.

    Source: even-odd rule, scan-line fill; Foley et al., Computer Graphics (1990), sec. 3.6 [from
    memory].
    """
    corners = [point for area in areas for point in area]
    if len(corners) < 3:
        return []
    step = gap * sqrt(2.0)
    sums = [x + y for x, y in corners]
    pieces = []
    for index in range(ceil(min(sums) / step), floor(max(sums) / step) + 1):
        total = index * step
        cuts = sorted(cut for area in areas for cut in _cuts(area, total))
        pieces += [
            ((a, total - a), (b, total - b))
            for a, b in zip(cuts[::2], cuts[1::2], strict=False)
            if b - a > 1e-6
        ]
    return pieces


def _cuts(area: Sequence[Point], total: float) -> list[float]:
    """X where the line x + y = total crosses the polygon's edges."""
    cuts = []
    for (x0, y0), (x1, y1) in zip(area, [*area[1:], area[0]], strict=True):
        before, after = x0 + y0 - total, x1 + y1 - total
        if (before < 0.0) != (after < 0.0):
            share = before / (before - after)
            cuts.append(x0 + share * (x1 - x0))
    return cuts


def inset(polygon: Sequence[Point], distance: float) -> list[Point]:
    """A convex polygon shrunk by a distance on every side.

    Args:
        polygon: Corners of a convex polygon, either sense.
        distance: >= 0.

    Returns:
        Corners of the shrunk polygon; empty where nothing is left.

    Source: half-plane clipping after Sutherland and Hodgman, Comm. ACM 17(1), 1974 [from memory].
    """
    turn = sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(polygon, [*polygon[1:], polygon[0]], strict=True)
    )
    ring = list(polygon) if turn > 0.0 else list(reversed(polygon))
    kept = list(ring)
    for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True):
        length = sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2)
        if length < 1e-12:
            continue
        nx, ny = -(y1 - y0) / length, (x1 - x0) / length
        kept = _half_plane(kept, nx, ny, nx * x0 + ny * y0 + distance)
    return kept


def _half_plane(ring: list[Point], nx: float, ny: float, least: float) -> list[Point]:
    kept: list[Point] = []
    for a, b in zip(ring, [*ring[1:], ring[0]] if ring else [], strict=True):
        da, db = nx * a[0] + ny * a[1] - least, nx * b[0] + ny * b[1] - least
        if da >= 0.0:
            kept.append(a)
        if (da >= 0.0) != (db >= 0.0):
            share = da / (da - db)
            kept.append((a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))
    return kept
