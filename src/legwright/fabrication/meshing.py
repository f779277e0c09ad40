"""Flat and folded parts as closed triangle meshes."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.bracket import Bracket
from legwright.fabrication.mesh import Indices, Mesh, volume_moments
from legwright.fabrication.plate import Plate
from legwright.fabrication.refold import refolded, refolded_angle
from legwright.robot.tree import Floats

CHORD = 2e-5
"""Largest distance of the mesh from round outlines [m]."""
STEP = np.radians(6.0)
"""One facet of a bend [rad]."""
SAME = 1e-9
"""Points nearer than this are one [m]."""


def plate_mesh(plate: Plate) -> Mesh:
    """A flat part, its middle plane at its height in the body frame.

    Args:
        plate: The part.
    """
    flat, triangles = _triangles(plate, ())
    half = plate.thickness / 2.0

    def placed(points: Floats, side: float) -> Floats:
        height = np.full(len(points), plate.height + side * half)
        return np.column_stack([points, height])

    return _walled(flat, triangles, placed)


def bracket_mesh(bracket: Bracket) -> Mesh:
    """A folded part in its own frame: its flat pattern's triangles folded up.

    Args:
        bracket: The bracket.
    """
    count = max(2, int(np.ceil(np.pi / 2.0 / STEP)))
    cuts = bracket.half_web + bracket.bend * np.arange(count + 1) / count
    flat, triangles = _triangles(bracket.flat, (*(-cuts[::-1]), *cuts))
    thickness = bracket.thickness

    def placed(points: Floats, side: float) -> Floats:
        # The pattern is seen from the inside, which is up: side 1.
        return refolded(bracket, points, thickness * (side + 1.0) / 2.0)

    return _outward(_walled(flat, triangles, placed))


def angle_mesh(bracket: AngleBracket) -> Mesh:
    """An angle bracket in its own frame, folded likewise.

    Args:
        bracket: The bracket.
    """
    count = max(2, int(np.ceil(bracket.turn / STEP)))
    cuts = tuple(bracket.bend * (np.arange(count + 1) / count - 0.5))
    flat, triangles = _triangles(bracket.flat, cuts)
    thickness = bracket.thickness

    def placed(points: Floats, side: float) -> Floats:
        return refolded_angle(bracket, points, thickness * (side + 1.0) / 2.0)

    return _outward(_walled(flat, triangles, placed))


def _outward(mesh: Mesh) -> Mesh:
    return mesh if volume_moments(mesh).zeroth > 0.0 else mesh.turned_out()


def _triangles(plate: Plate, cuts: tuple[float, ...]) -> tuple[Floats, Indices]:
    """Points and counter-clockwise triangles of a flat part, cut at lines x = const."""
    import shapely
    from shapely.geometry import LineString, Polygon
    from shapely.ops import split, unary_union

    shape = Polygon(plate.outline.contour.polygon(CHORD))
    holes = unary_union([Polygon(each.contour.polygon(CHORD)) for each in plate.openings])
    shape = shape.difference(holes)
    if shape.geom_type != "Polygon":
        raise RequestError("plate", plate.name, "one piece: its openings cut it apart")
    _, bottom, _, top = plate.box
    pieces = [shape]
    for x in cuts:
        line = LineString([(x, bottom - 1.0), (x, top + 1.0)])
        pieces = [part for piece in pieces for part in split(piece, line).geoms]
    found = []
    for piece in pieces:
        for triangle in shapely.constrained_delaunay_triangles(piece).geoms:
            found.append(np.array(triangle.exterior.coords)[:3])
    corners = np.concatenate(found)
    keys = np.round(corners / SAME).astype(np.int64)
    _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    points, faces = corners[first], inverse.reshape(-1, 3).astype(np.int64)
    u, v = points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]]
    clockwise = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0] < 0.0
    faces[clockwise] = faces[clockwise][:, ::-1]
    return points, faces


def _walled(flat: Floats, triangles: Indices, placed: Callable[[Floats, float], Floats]) -> Mesh:
    """Two copies of the triangles, and walls along edges that have one triangle only."""
    count = len(flat)
    points = np.concatenate([placed(flat, 1.0), placed(flat, -1.0)])
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    known = {(int(a), int(b)) for a, b in edges}
    border = [(a, b) for a, b in known if (b, a) not in known]
    walls = [
        face
        for a, b in border
        for face in ((a + count, b + count, b), (a + count, b, a))
    ]  # fmt: skip
    faces = np.concatenate([triangles, triangles[:, ::-1] + count, np.array(walls, dtype=np.int64)])
    return Mesh(points=points, faces=faces)
