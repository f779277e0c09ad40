"""A faceted hood over the trunk, made from the layout: the demo family's own cover.

Four rings of one outline: a skirt, a belt round the top of the trunk, a shoulder, and a roof that
is set back. The outline holds the trunk and the hips and comes to a point ahead and behind. Every
facet is flat, the wall has one thickness, and no slope leans more than 45° when the hood is
printed standing on its roof. The lights look out between belt and shoulder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from legwright.errors import RobotError
from legwright.fabrication.hood_openings import Prism, leg_openings, mast_openings
from legwright.fabrication.mesh import Mesh
from legwright.mechanics.solids import solids_of
from legwright.robot.robot import Robot
from legwright.robot.same_numbers import Alike
from legwright.robot.sheet import Shell
from legwright.robot.tree import Floats, read_only

if TYPE_CHECKING:
    from manifold3d import Manifold

SHOULDER = 0.55
"""Height of the shoulder over the belt, over the rise."""
LEANS = (0.25, 0.75)
"""Inset over height, from belt to shoulder and from there to the roof."""
SET_BACK, TAPER = 0.06, 0.12
"""Shift of the roof to the rear, over the rise; inset of the skirt, over its depth."""
NOSE, TAIL = 0.10, 0.05
"""How far the outline's points stand out, over the trunk's length."""
WINDOW = (0.9, 0.45)
"""Width and height of a window over the height of its band."""
SPARE = 1.5e-3
"""Openings are wider than the asked gap by this [m]."""
SCREW_HOLE = 3.4e-3
"""Clearance hole for M3, ISO 273 medium [m]."""
BENEATH = 0.5
"""How far openings reach beyond anything [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class HoodMeasures:
    """Measures of a hood; the sheet's, or in proportion to the trunk."""

    outline: Floats
    """Convex, anticlockwise, (N, 2): the belt in plan [m]."""
    low: float
    """Rim [m]"""
    belt: float
    """[m]"""
    roof: float
    """[m]"""
    wall: float
    """[m]"""
    gap: float
    """To moving links [m]."""


def measures(robot: Robot, entry: Shell) -> HoodMeasures:
    """Measures of a robot's hood.

    Args:
        robot: The robot.
        entry: The sheet's words on it.

    Returns:
        Measures in the body frame.

    Raises:
        RobotError: if the trunk has no shape.
    """
    corners = [points for points, _ in solids_of(robot, robot.body)]
    if not robot.tree.links[robot.body].shapes:
        raise RobotError(
            robot.source,
            "shell",
            f"cannot generate a hood: link '{robot.body}' has no shape",
            "Give the trunk collision geometry, or name a mesh file.",
        )
    asked = entry.gap if entry.gap is not None else robot.sheet.requirements.link_clearance
    return _measured(Alike(entry, np.concatenate(corners), robot.hips[:, :2], asked))


@lru_cache(maxsize=4)
def _measured(by: Alike) -> HoodMeasures:
    """The same of what they are taken from; remembered, since few edits of a leg change that."""
    entry, trunk, hips, asked = by.args
    low, high = trunk.min(axis=0), trunk.max(axis=0)
    height, width = high[2] - low[2], high[1] - low[1]
    over = entry.overlap if entry.overlap is not None else 0.06 * width
    rise = entry.rise if entry.rise is not None else 0.16 * width
    skirt = entry.skirt if entry.skirt is not None else 0.55 * height
    length, middle = high[0] - low[0], 0.5 * (low[1] + high[1])
    plan = [
        [low[0], low[1]],
        [high[0], low[1]],
        [high[0], high[1]],
        [low[0], high[1]],
        [high[0] + NOSE * length, middle],
        [low[0] - TAIL * length, middle],
    ]
    return HoodMeasures(
        outline=_grown(np.concatenate([plan, hips]), over),
        low=float(high[2] - skirt),
        belt=float(high[2]),
        roof=float(high[2] + rise),
        wall=entry.wall,
        gap=(asked or 0.003) + SPARE,
    )


def hood(robot: Robot, entry: Shell, name: str) -> Mesh:
    """A hood for a robot.

    Args:
        robot: The robot.
        entry: What the sheet says of it.
        name: Its key, for errors.

    Returns:
        A closed surface in the body frame [m].

    Raises:
        RobotError: if the trunk has no shape, or nothing is left of the hood.
    """
    made = measures(robot, entry)
    outer = _outside(made)
    prisms = (*leg_openings(robot, outer, made.gap), *mast_openings(robot, outer, made.gap))
    windows = entry.windows
    if windows is None:
        windows = robot.sheet.lights.count if robot.sheet.lights is not None else 0
    found = _cut(Alike(made, prisms, windows, entry.window_size))
    if found is None:
        raise RobotError(
            robot.source,
            f"shell.{name}",
            "leaves nothing of the hood between its openings",
            "Give it more rise or skirt, or a smaller gap.",
        )
    return found


@lru_cache(maxsize=4)
def _cut(by: Alike) -> Mesh | None:
    """The largest piece that is left; remembered, since few edits of a leg change its openings."""
    made, prisms, windows, size = by.args
    outer = _outside(made)
    body: Any = _hull(outer) - _hull(_inner_corners(outer, made))
    for prism in prisms:
        body -= _prism(prism)
    for block in (*_windows(made, windows, size, prisms), *_screw_holes(made, prisms)):
        body -= _hull(block)
    pieces = sorted(body.decompose(), key=lambda piece: piece.volume(), reverse=True)
    if not pieces or pieces[0].is_empty():
        return None
    surface = pieces[0].to_mesh64()
    return Mesh(
        points=np.asarray(surface.vert_properties, dtype=np.float64)[:, :3] * 1e-3,
        faces=np.asarray(surface.tri_verts, dtype=np.int64),
    )


def _grown(points: Floats, by: float) -> Floats:
    """Convex hull in plan, each side moved outward, anticlockwise."""
    from scipy.spatial import ConvexHull

    hull = ConvexHull(points)
    return _plane_corners(hull.equations[:, :2], -hull.equations[:, 2] + by)


def _plane_corners(normal: Floats, offset: Floats) -> Floats:
    """Corners of a convex polygon given by its sides, anticlockwise; parallel sides are one."""
    turn = np.round(np.mod(np.arctan2(normal[:, 1], normal[:, 0]) + 1e-6, 2.0 * np.pi), 9)
    _, kept = np.unique(turn, return_index=True)
    n, d = normal[kept], offset[kept]
    after = np.roll(np.arange(len(n)), -1)
    met, offsets = np.stack([n, n[after]], axis=1), np.stack([d, d[after]], axis=1)
    return np.asarray(np.linalg.solve(met, offsets[..., None])[..., 0])


def _sides(outline: Floats) -> tuple[Floats, Floats]:
    """Outward normals and offsets of an anticlockwise polygon's sides."""
    along = np.roll(outline, -1, axis=0) - outline
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    return normal, np.einsum("ni,ni->n", normal, outline)


def _ring(outline: Floats, inset: float, back: float, z: float) -> Floats:
    normal, offset = _sides(outline)
    ring = _plane_corners(normal, offset - inset) - [back, 0.0]
    return np.column_stack([ring, np.full(len(ring), z)])


def _upper_rings(made: HoodMeasures) -> tuple[Floats, Floats, Floats]:
    """Belt, shoulder and roof."""
    rise = made.roof - made.belt
    step = SHOULDER * rise
    inset = LEANS[0] * step
    return (
        _ring(made.outline, 0.0, 0.0, made.belt),
        _ring(made.outline, inset, 0.0, made.belt + step),
        _ring(made.outline, inset + LEANS[1] * (rise - step), SET_BACK * rise, made.roof),
    )


@lru_cache(maxsize=4)
def _outside(made: HoodMeasures) -> Floats:
    """As `_outer_corners`; remembered with the measures."""
    return read_only(_outer_corners(made))


def _outer_corners(made: HoodMeasures) -> Floats:
    skirt = _ring(made.outline, TAPER * (made.belt - made.low), 0.0, made.low)
    return np.concatenate([skirt, *_upper_rings(made)])


def _inner_corners(outer: Floats, made: HoodMeasures) -> Floats:
    """Corners of the hollow: every plane of the outside moved inward, the bottom left open."""
    from scipy.spatial import ConvexHull, HalfspaceIntersection

    planes = np.unique(np.round(ConvexHull(outer).equations, 12), axis=0)
    bottom = planes[:, 2] < -0.999
    planes[:, 3] += np.where(bottom, -made.wall, made.wall)
    middle = np.array([*made.outline.mean(axis=0), made.belt])
    return np.asarray(HalfspaceIntersection(planes, middle).intersections)


def _windows(
    made: HoodMeasures, count: int, size: tuple[float, float] | None, prisms: Sequence[Prism]
) -> list[Floats]:
    """Blocks to cut out of the band under the shoulder, clear of openings, mirrored."""
    low, high, _ = _upper_rings(made)
    if size is None:
        tall = float(np.linalg.norm([LEANS[0], 1.0])) * SHOULDER * (made.roof - made.belt)
        size = (WINDOW[0] * tall, WINDOW[1] * tall)
    spans: list[tuple[Floats, float, float]] = []
    for facet in range(len(low)):
        after = (facet + 1) % len(low)
        corners = np.stack([low[facet], low[after], high[after], high[facet]])
        spans += [
            (corners, *ends) for ends in _free(corners, 0.5 * size[0] + 2.0 * made.wall, prisms)
        ]
    if not spans:
        return []
    middle = np.stack([_along(corners, 0.5 * (a + b)) for corners, a, b in spans])
    length = np.array(
        [np.linalg.norm(_along(corners, b) - _along(corners, a)) for corners, a, b in spans]
    )
    twin = [
        int(np.argmin(np.linalg.norm(middle * [1.0, -1.0, 1.0] - spot, axis=1))) for spot in middle
    ]
    blocks = []
    for (corners, a, b), number in zip(spans, _shared(length, twin, count), strict=True):
        for place in range(number):
            at = _along(corners, a + (b - a) * (place + 0.5) / number)
            blocks.append(_block(corners, at, size, made.wall))
    return blocks


def _along(corners: Floats, share: float) -> Floats:
    """A place at half height of a facet, from its first end (0) to its second (1)."""
    foot = corners[0] + share * (corners[1] - corners[0])
    head = corners[3] + share * (corners[2] - corners[3])
    return np.asarray(0.5 * (foot + head))


def _free(corners: Floats, half: float, prisms: Sequence[Prism]) -> list[tuple[float, float]]:
    """Stretches of a facet where the middle of a window may lie, as shares of its length."""
    steps = np.linspace(0.0, 1.0, 129)
    ends = _along(corners, 0.0), _along(corners, 1.0)
    spots = ends[0] + np.outer(steps, ends[1] - ends[0])
    length = float(np.linalg.norm(ends[1] - ends[0]))
    ok = (half <= steps * length) & (steps * length <= length - half)
    for prism in prisms:
        ok &= (prism.high <= spots[:, 2] - half) | ~prism.holds(spots[:, :2], half)
    edges = np.flatnonzero(np.diff(np.r_[False, ok, False]))
    return [
        (float(steps[a]), float(steps[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if b - a > 1
    ]


def _shared(length: Floats, twin: list[int], count: int) -> list[int]:
    """So many windows for each facet: two at a time to mirrored facets, the longest first."""
    given = [0] * len(length)
    left = count
    while left > 0:
        rank = sorted(range(len(length)), key=lambda i: -length[i] / (given[i] + 1.0))
        facet = next((i for i in rank if left > 1 or twin[i] == i), rank[0])
        both = {facet, twin[facet]} if left > 1 else {facet}
        for one in both:
            given[one] += 1
        left -= len(both)
    return given


def _block(facet: Floats, at: Floats, size: tuple[float, float], wall: float) -> Floats:
    """Corners of a window's block across a facet."""
    along = (facet[1] - facet[0]) / np.linalg.norm(facet[1] - facet[0])
    normal = np.cross(along, facet[3] - facet[0])
    normal /= np.linalg.norm(normal)
    up = np.cross(normal, along)
    half = 0.5 * np.array(size)
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    axes = np.stack([half[0] * along, half[1] * up, 3.0 * wall * normal])
    return np.asarray(at + signs @ axes)


def _screw_holes(made: HoodMeasures, prisms: Sequence[Prism]) -> list[Floats]:
    """Four holes in the roof, for screws into stand-offs; those in the way of an opening not."""
    roof = _upper_rings(made)[2][:, :2]
    normal, offset = _sides(roof)
    reach = 0.56 * np.ptp(roof, axis=0) / 2.0
    centre = 0.5 * (roof.min(axis=0) + roof.max(axis=0))
    turn = (np.arange(24) + 0.5) * 2.0 * np.pi / 24
    radius = 0.5 * SCREW_HOLE / np.cos(np.pi / 24)
    ring = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    blocks = []
    for sx in (-1.0, 1.0):
        for sy in (-1.0, 1.0):
            spot = centre + reach * [sx, sy]
            clear = float((offset - normal @ spot).min()) > 3.0 * SCREW_HOLE
            if clear and not any(prism.holds(spot[None], 3.0 * SCREW_HOLE)[0] for prism in prisms):
                flat = spot + ring
                blocks.append(
                    np.concatenate(
                        [np.column_stack([flat, np.full(24, z)]) for z in (made.belt, 9.0)]
                    )
                )
    return blocks


def _hull(points: Floats) -> Manifold:
    from manifold3d import Manifold

    return Manifold.hull_points(np.ascontiguousarray(points * 1e3))


def _prism(prism: Prism) -> Manifold:
    low, high = (np.full(len(prism.outline), z) for z in (prism.low, prism.high))
    ends = [np.column_stack([prism.outline, z]) for z in (low, high)]
    return _hull(np.concatenate(ends))
