"""Which way up to print: overhangs and the supports that they want."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sqrt

import numpy as np

from legwright.fabrication.mesh import Indices, Mesh, normals_and_areas
from legwright.fabrication.rays import BoxTree, seen_from
from legwright.fabrication.wall import spread
from legwright.robot.tree import Floats, read_only

LIMIT = radians(45.0)
"""Lean from the vertical that prints without support [rad]; common practice, sources disagree
between 45° and 55°."""
SPREAD = 168
"""Directions tried beside those of the part's own flat sides: axes and an even spread."""
FLAT_SHARE = 0.005
"""Sides of a smaller share of the surface are not tried as resting faces."""
FLAT_SIDES = 24
"""Largest flat directions of the part that are tried as resting faces."""
LEAST_HOLD, HOLD_SHARE = 1e-4, 0.005
"""A way that rests on less than the smaller of this area [m²] and this share of the surface
comes last: it would not hold on the bed. Our own choice."""
PLACES = 4000
"""Places on overhangs from which rays look down."""
ON_BED = 0.4e-3
"""Faces lower than this over the bed rest on it: some two first layers [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Lying:
    """One way to lay a part on the bed."""

    up: Floats
    """Unit vector of the mesh's frame that points up while printing, (3,)."""
    overhang: float
    """Area that leans too far and does not rest on the bed [m²]."""
    support: float
    """Volume between it and the bed, an upper bound of the supports' [m³]."""
    height: float
    """[m]"""
    resting: float
    """Area that rests on the bed [m²]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Patches:
    """Triangles gathered by direction: what makes large meshes cheap."""

    normal: Floats
    """(K, 3) unit"""
    area: Floats
    """(K,) [m²]"""
    moment: Floats
    """(K, 3): sum of area times centroid [m³]."""


def patches(mesh: Mesh, *, cells: int = 48) -> Patches:
    """Triangles gathered into cells of about 2° of the sphere of directions.

    A cell keeps its true mean normal, so that flat sides keep theirs exactly.

    Args:
        mesh: The surface.
        cells: Along the edge of the cube around that sphere.
    """
    normal, area = normals_and_areas(mesh)
    largest = np.abs(normal).max(axis=1)
    keep = largest > 0.0
    normal, area = normal[keep], area[keep]
    centroid = mesh.middles[keep]
    on_cube = np.round(normal / largest[keep][:, None] * (cells // 2)).astype(np.int64)
    side = cells + 1
    key = ((on_cube[:, 0] + cells) * 2 * side + on_cube[:, 1] + cells) * 2 * side + on_cube[:, 2]
    _, index = np.unique(key, return_inverse=True)
    count = int(index.max()) + 1

    def gathered(values: Floats) -> Floats:
        columns = [np.bincount(index, weights=column, minlength=count) for column in values.T]
        return np.stack(columns, axis=1)

    mean = gathered(normal * area[:, None])
    return Patches(
        normal=mean / np.linalg.norm(mean, axis=1)[:, None],
        area=gathered(area[:, None])[:, 0],
        moment=gathered(centroid * area[:, None]),
    )


def lyings(mesh: Mesh, *, limit: float = LIMIT, shown: int = 8) -> tuple[Lying, ...]:
    """Ways to lay a part, best first.

    Best is a way that rests on a flat side, then the least support, then the least height:
    hold, material, time. All directions are tried on patches; the best of them and the
    part's own flat sides on every triangle.

    Args:
        mesh: The surface.
        limit: Lean from the vertical that prints without support [rad].
        shown: How many are measured on every triangle, beside flat sides.
    """
    gathered = patches(mesh)
    normal, area = normals_and_areas(mesh)
    size, surface = mesh.extent, float(area.sum())
    ups = _directions(gathered, surface)
    low, high = _heights(mesh.points, ups)
    along = gathered.moment / gathered.area[:, None]
    rough = [
        _cost(_lying(gathered.normal, gathered.area, along @ up, up, span, limit), size, 0.0)
        for up, span in zip(ups, zip(low, high, strict=True), strict=True)
    ]
    best = sorted(range(len(ups)), key=lambda i: rough[i])[:shown]
    chosen = sorted({*best, *range(len(ups) - SPREAD)})
    found = [
        _lying(normal, area, mesh.middles @ ups[i], ups[i], (low[i], high[i]), limit)
        for i in chosen
    ]
    return tuple(sorted(found, key=lambda one: _cost(one, size, surface)))


def _cost(one: Lying, size: Floats, area: float) -> tuple[bool, float]:
    hold = min(LEAST_HOLD, HOLD_SHARE * area)
    material = one.support / max(float(np.prod(size)), 1e-12)
    return one.resting < hold, material + 0.1 * one.height / float(size.max())


def _lying(
    normal: Floats, area: Floats, along: Floats, up: Floats, span: tuple[float, float], limit: float
) -> Lying:
    """Faces with unit normals (K, 3), areas (K,) and places along ``up`` (K,), laid."""
    lean = normal @ up
    height = along - span[0]
    down = lean < -cos(radians(90.0) - limit) - 1e-9
    bed = (lean < -0.999) & (height < ON_BED)
    hanging = down & ~bed
    fall = area[hanging] * -lean[hanging]
    return Lying(
        up=read_only(up),
        overhang=float(area[hanging].sum()),
        support=float(fall @ height[hanging]),
        height=float(span[1] - span[0]),
        resting=float(area[bed].sum()),
    )


def hangs(mesh: Mesh, normal: Floats, up: Floats, limit: float) -> Indices:
    """Triangles that want support.

    Args:
        mesh: The part.
        normal: Of its triangles, unit, (M, 3).
        up: Unit vector that points up while printing, (3,).
        limit: Lean from the vertical that prints without support [rad].

    Returns:
        Their numbers.
    """
    lean = normal @ up
    height = mesh.middles @ up - float((mesh.points @ up).min())
    down = lean < -cos(radians(90.0) - limit) - 1e-9
    return np.flatnonzero(down & ~((lean < -0.999) & (height < ON_BED)))


def supports(mesh: Mesh, tree: BoxTree, laid: Lying, *, limit: float = LIMIT) -> float:
    """Volume under overhangs down to the bed or to the part itself [m³].

    Args:
        mesh: The part.
        tree: Over it.
        laid: How it lies.
        limit: Lean from the vertical that prints without support [rad].

    Source: rays straight down from `PLACES` places spread over the overhanging area.
    """
    normal, area = normals_and_areas(mesh)
    low = float((mesh.points @ laid.up).min())
    lean = normal @ laid.up
    hanging = hangs(mesh, normal, laid.up, limit)
    total = float(area[hanging].sum())
    if total <= 0.0:
        return 0.0
    part = Mesh(points=mesh.points, faces=mesh.faces[hanging])
    places, face = spread(part, area[hanging], PLACES)
    ways = np.broadcast_to(-laid.up, places.shape)
    fall, _ = seen_from(tree, places, ways, hanging[face])
    fall = np.minimum(fall, places @ laid.up - low)
    return float(np.mean(fall * -lean[hanging[face]])) * total


def _directions(gathered: Patches, surface: float) -> Floats:
    """Ways up to try, (D, 3): the part's flat sides down, then axes and an even spread."""
    big = np.argsort(-gathered.area)[:FLAT_SIDES]
    flat = -gathered.normal[big[gathered.area[big] > FLAT_SHARE * surface]]
    axes = np.concatenate([np.eye(3), -np.eye(3)])
    n = np.arange(SPREAD - len(axes)) + 0.5
    z = 1.0 - 2.0 * n / len(n)
    turn = np.pi * (1.0 + sqrt(5.0)) * n
    ring = np.sqrt(1.0 - z * z)
    even = np.stack([ring * np.cos(turn), ring * np.sin(turn), z], axis=1)
    return np.concatenate([flat, axes, even])


def _heights(points: Floats, ups: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest corner along each direction, (D,) each."""
    low, high = np.full(len(ups), np.inf), np.full(len(ups), -np.inf)
    for start in range(0, len(points), 65536):
        along = points[start : start + 65536] @ ups.T
        low = np.minimum(low, along.min(axis=0))
        high = np.maximum(high, along.max(axis=0))
    return low, high
