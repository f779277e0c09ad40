"""A surface as a line drawing: outline and creases, hidden lines left out."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians

import numpy as np

from legwright.fabrication.mesh import Indices, Mesh, normals_and_areas
from legwright.fabrication.rays import BoxTree, seen_from
from legwright.robot.tree import Floats
from legwright.views.projection import View

CREASE = radians(22.0)
"""Edges at which the surface turns more than this are drawn [rad]."""
MOST_EDGES = 6000
"""Longest edges kept where there are more."""
STEPS = 24
"""Most places looked at along an edge."""

Line = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeshLines:
    """Visible lines, right and down as the view gives them [m]."""

    outline: tuple[Line, ...]
    """Where the surface turns away from the viewer."""
    creases: tuple[Line, ...]
    """Sharp edges on the near side."""


def mesh_lines(mesh: Mesh, tree: BoxTree, view: View) -> MeshLines:
    """Visible outline and creases of a surface.

    Every edge is looked at in places along it: a place is seen when no triangle lies between it
    and the viewer, or a hair of light comes past it.

    Args:
        mesh: The surface, facing outward.
        tree: Over it.
        view: The projection.

    Returns:
        Lines.
    """
    ends, sides = _edges(mesh)
    normal, _ = normals_and_areas(mesh)
    toward = normal @ view.near
    one, two = toward[sides[:, 0]] > 1e-9, toward[sides[:, 1]] > 1e-9
    contour = (one != two) | ((sides[:, 0] == sides[:, 1]) & one)
    bend = np.einsum("ei,ei->e", normal[sides[:, 0]], normal[sides[:, 1]])
    crease = (bend < cos(CREASE)) & one & two
    outline = _visible(mesh, tree, view, ends[contour], normal, sides[contour])
    creases = _visible(mesh, tree, view, ends[crease], normal, sides[crease])
    return MeshLines(outline=outline, creases=creases)


def _edges(mesh: Mesh) -> tuple[Indices, Indices]:
    """Edges by their ends (E, 2), and the two triangles of each (E, 2), equal where open."""
    faces = mesh.faces
    pairs = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    owner = np.tile(np.arange(len(faces)), 3)
    key = pairs[:, 0] * len(mesh.points) + pairs[:, 1]
    order = np.argsort(key, kind="stable")
    ranked = key[order]
    first = np.flatnonzero(np.r_[True, ranked[1:] != ranked[:-1]])
    last = np.r_[first[1:], len(ranked)] - 1
    return pairs[order[first]], np.stack([owner[order[first]], owner[order[last]]], axis=1)


def _visible(
    mesh: Mesh, tree: BoxTree, view: View, ends: Indices, normal: Floats, sides: Indices
) -> tuple[Line, ...]:
    if not len(ends):
        return ()
    size = float(mesh.extent.max())
    a, b = mesh.points[ends[:, 0]], mesh.points[ends[:, 1]]
    length = np.linalg.norm(view.flat(b) - view.flat(a), axis=1)
    kept = np.argsort(-length)[:MOST_EDGES]
    kept = kept[length[kept] > 1e-4 * size]
    a, b, sides, length = a[kept], b[kept], sides[kept], length[kept]
    if not len(a):
        return ()
    count = np.clip(np.ceil(length / (0.012 * size)).astype(np.int64), 3, STEPS)
    edge = np.repeat(np.arange(len(a)), count)
    place = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    share = (place + 0.5) / count[edge]
    spots = a[edge] + share[:, None] * (b[edge] - a[edge])
    out = normal[sides[:, 0]] + normal[sides[:, 1]]
    out /= np.maximum(np.linalg.norm(out, axis=1), 1e-12)[:, None]
    spots = spots + 2e-4 * size * (out[edge] + view.near)
    ways = np.broadcast_to(view.near / np.linalg.norm(view.near), spots.shape)
    far, _ = seen_from(tree, spots, ways, np.full(len(spots), -1, dtype=np.int64))
    seen = np.isinf(far)
    return _runs(view.flat(a), view.flat(b), edge, place, count, seen)


def _runs(
    a: Floats, b: Floats, edge: Indices, place: Indices, count: Indices, seen: Floats
) -> tuple[Line, ...]:
    """Neighbouring seen places of an edge, joined to lines."""
    index = np.flatnonzero(seen)
    if not len(index):
        return ()
    fresh = np.r_[True, (np.diff(index) > 1) | (np.diff(edge[index]) != 0)]
    start = index[fresh]
    stop = index[np.r_[np.flatnonzero(fresh)[1:] - 1, len(index) - 1]]
    which = edge[start]
    low = place[start] / count[which]
    high = (place[stop] + 1) / count[which]
    one = a[which] + low[:, None] * (b[which] - a[which])
    two = a[which] + high[:, None] * (b[which] - a[which])
    return tuple(
        ((float(p[0]), float(p[1])), (float(q[0]), float(q[1])))
        for p, q in zip(one, two, strict=True)
    )
