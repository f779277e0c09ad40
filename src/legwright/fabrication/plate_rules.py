"""Can a flat part be cut: holes large enough, webs and edges wide enough, nothing overlapping?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

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
    import shapely

    openings = plate.openings
    if not openings:
        return PlateMeasures(hole=None, web=None, edge=None, overlaps=(), outside=())
    shapes = np.array([_core(each) for each in openings])
    radius = np.array([0.5 * (each.diameter or 0.0) for each in openings])
    whole = shapely.Polygon(plate.outline.contour.polygon(CHORD))
    smallest = min(openings, key=lambda each: each.smallest)
    margin = shapely.distance(whole.exterior, shapes) - radius
    inside = shapely.contains(whole, shapes) & (margin >= 0.0)
    outside = tuple(each.name for each, fine in zip(openings, inside, strict=True) if not fine)
    edges = [
        (max(float(gap), 0.0), each)
        for gap, each, fine in zip(margin, openings, inside, strict=True)
        if fine
    ]
    first, second = np.triu_indices(len(shapes), 1)
    gaps = shapely.distance(shapes[first], shapes[second]) - radius[first] - radius[second]
    overlaps = [
        (openings[first[k]].name, openings[second[k]].name) for k in np.flatnonzero(gaps <= 0.0)
    ]
    web: Measured | None = None
    if len(gaps):
        least = int(gaps.argmin())
        web = Measured(
            value=max(float(gaps[least]), 0.0),
            between=(openings[first[least]].name, openings[second[least]].name),
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


def _core(opening: Opening) -> Any:
    """What lies the opening's radius inside its edge: of a round one its centre, else itself."""
    import shapely

    if opening.outline is None:
        return shapely.Point(opening.centre)
    return shapely.Polygon(opening.contour.polygon(CHORD))
