"""Can a flat part be cut: holes large enough, webs and edges wide enough, nothing overlapping?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from legwright.fabrication.openings import Opening
from legwright.fabrication.plate import Plate

CHORD = 1e-6
"""Distances between curved outlines are exact to about twice this [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """The narrowest place of one kind."""

    value: float
    """[m]; negative or zero: they overlap or cross."""
    between: tuple[str, ...]
    """Names of what lies beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateMeasures:
    """The narrowest places of a flat part."""

    hole: Measured | None
    """Smallest opening; None without openings."""
    web: Measured | None
    """Least material between two openings; None with fewer than two."""
    edge: Measured | None
    """Least material between an opening and the outline."""
    overlaps: tuple[tuple[str, str], ...]
    """Openings that meet each other."""
    outside: tuple[str, ...]
    """Openings that leave the outline."""


@lru_cache(maxsize=16)
def measured(plate: Plate) -> PlateMeasures:
    """Measure the narrowest places of a flat part; remembered, since parts are frozen.

    Args:
        plate: The part.

    Returns:
        Smallest opening, web and edge; what overlaps or lies outside.
    """
    from shapely.geometry import Polygon
    from shapely.strtree import STRtree

    openings = plate.openings
    if not openings:
        return PlateMeasures(hole=None, web=None, edge=None, overlaps=(), outside=())
    shapes = [Polygon(_corners(each)) for each in openings]
    whole = Polygon(plate.outline.contour.polygon(CHORD))
    smallest = min(openings, key=lambda each: each.smallest)
    outside = tuple(
        each.name for each, shape in zip(openings, shapes, strict=True) if not whole.contains(shape)
    )
    edges = [(whole.exterior.distance(shape), each) for each, shape in
             zip(openings, shapes, strict=True) if each.name not in outside]  # fmt: skip
    tree = STRtree(shapes)
    first, second = tree.query(shapes, predicate="intersects")
    overlaps = [
        (openings[i].name, openings[k].name)
        for i, k in sorted(zip(first.tolist(), second.tolist(), strict=True))
        if i < k
    ]
    web: Measured | None = None
    if len(shapes) > 1:
        pairs, gaps = tree.query_nearest(shapes, exclusive=True, return_distance=True)
        least = int(gaps.argmin())
        between = sorted(int(k) for k in pairs[:, least])
        web = Measured(
            value=float(gaps[least]), between=(openings[between[0]].name, openings[between[1]].name)
        )
    edge = None
    if edges:
        gap, nearest = min(edges, key=lambda pair: pair[0])
        edge = Measured(value=float(gap), between=(nearest.name,))
    if outside:
        edge = Measured(value=0.0, between=outside)
    return PlateMeasures(
        hole=Measured(value=smallest.smallest, between=(smallest.name,)),
        web=web,
        edge=edge,
        overlaps=tuple(overlaps),
        outside=outside,
    )


def _corners(opening: Opening) -> list[tuple[float, float]]:
    return opening.contour.polygon(CHORD)
