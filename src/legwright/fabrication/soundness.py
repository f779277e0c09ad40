"""Is a surface closed, and does it face outward?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.fabrication.mesh import Indices, Mesh, volume_moments
from legwright.fabrication.rays import windings
from legwright.robot.tree import Floats

MOST_PIECES = 24
"""Pieces beyond this many are counted, not looked at one by one."""
SLIVER = 1e-12
"""Triangles with less area than this share of their longest edge squared have none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Soundness:
    """What a surface lacks to enclose a solid."""

    triangles: int
    open_edges: int
    """Edges with one triangle."""
    crowded_edges: int
    """Edges with more than two triangles."""
    torn_edges: int
    """Edges whose two triangles face opposite ways."""
    flat: int
    """Triangles without area."""
    pieces: int
    """Parts of the surface that do not hang together."""
    inverted: int
    """Pieces that face inward though they are no cavity, by sign of volume and winding."""
    cavities: int
    """Pieces that face inward inside another: hollows."""
    through_holes: int | None
    """Handles of the surface (its genus): openings that go right through; None where open."""
    cracks: int
    """Open edges that close when corners within a millionth of the size are joined."""

    @property
    def watertight(self) -> bool:
        """Whether every edge has two triangles."""
        return self.open_edges == 0 and self.crowded_edges == 0

    @property
    def sound(self) -> bool:
        """Watertight, and facing outward everywhere."""
        return self.watertight and self.torn_edges == 0 and self.inverted == 0


def soundness(mesh: Mesh) -> Soundness:
    """Look at every edge and every piece of a surface.

    Args:
        mesh: The surface.

    Returns:
        What was counted. Pieces beyond the `MOST_PIECES` largest are taken as they are.

    Source: orientable closed surfaces have V − E + F = 2 − 2 g for each piece (Euler, Poincaré).
    """
    keys, count, turn = _edges(mesh.faces, len(mesh.points))
    label, pieces = _pieces(mesh, keys)
    open_edges = int(np.count_nonzero(count == 1))
    crowded = int(np.count_nonzero(count > 2))
    inverted, cavities = _facing(mesh, label, pieces)
    closed = open_edges == 0 and crowded == 0
    used = int(np.count_nonzero(np.bincount(mesh.faces.ravel(), minlength=len(mesh.points))))
    euler = used - len(keys) + len(mesh.faces)
    return Soundness(
        triangles=len(mesh.faces),
        open_edges=open_edges,
        crowded_edges=crowded,
        torn_edges=int(np.count_nonzero((count == 2) & (turn != 0))),
        flat=_flat(mesh),
        pieces=pieces,
        inverted=inverted,
        cavities=cavities,
        through_holes=pieces - euler // 2 if closed else None,
        cracks=0 if open_edges == 0 else open_edges - _open_when_joined(mesh),
    )


def _edges(faces: Indices, points: int) -> tuple[Indices, Indices, Indices]:
    """Keys of the edges, how many triangles each has, and how their directions add up."""
    a = faces.ravel()
    b = faces[:, [1, 2, 0]].ravel()
    key = np.minimum(a, b) * points + np.maximum(a, b)
    order = np.argsort(key)
    ranked = key[order]
    first = np.flatnonzero(np.r_[True, ranked[1:] != ranked[:-1]])
    count = np.diff(np.r_[first, len(ranked)])
    turn = np.add.reduceat(np.where(a < b, 1, -1)[order], first)
    return ranked[first], count, turn


def _pieces(mesh: Mesh, keys: Indices) -> tuple[Indices, int]:
    """Piece of each triangle, (M,), and how many there are; ``keys`` as `_edges` gives."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    size = len(mesh.points)
    start = np.r_[0, np.cumsum(np.bincount(keys // size, minlength=size))]
    links = csr_matrix((np.ones(len(keys), dtype=np.int8), keys % size, start), shape=(size, size))
    _, label = connected_components(links, directed=False)
    of_face = label[mesh.faces[:, 0]]
    seen = np.bincount(of_face) > 0
    number = np.cumsum(seen) - 1
    return number[of_face].astype(np.int64), int(seen.sum())


def _facing(mesh: Mesh, label: Indices, pieces: int) -> tuple[int, int]:
    """Pieces that are inverted, and pieces that are cavities."""
    if pieces == 1:
        return int(volume_moments(mesh).zeroth < 0.0), 0
    corners = mesh.corners
    normal, area = mesh.facing
    six = area * np.einsum("ni,ni->n", corners[:, 0], normal)
    volume = np.bincount(label, weights=six, minlength=pieces)
    size = np.bincount(label, minlength=pieces)
    largest = np.argsort(-size, kind="stable")[:MOST_PIECES]
    inward = largest[volume[largest] < 0.0]
    if not len(inward):
        return 0, 0
    some = [int(np.flatnonzero(label == piece)[0]) for piece in inward]
    spots = corners[some].mean(axis=1)
    around = windings(corners, spots, label, inward)
    cavities = int(np.count_nonzero(around > 0))
    return len(inward) - cavities, cavities


def _flat(mesh: Mesh) -> int:
    _, area = mesh.facing
    longest = np.zeros(len(area))
    for k in range(3):
        edge = mesh.corners[:, k] - mesh.corners[:, k - 1]
        longest = np.maximum(longest, np.einsum("ni,ni->n", edge, edge))
    return int(np.count_nonzero(area <= SLIVER * longest))


def _open_when_joined(mesh: Mesh) -> int:
    """Open edges left when corners are rounded to a millionth of the size."""
    step = 1e-6 * float(mesh.extent.max())
    cells: Floats = np.round((mesh.points - mesh.points.min(axis=0)) / step)
    _, index = np.unique(cells, axis=0, return_inverse=True)
    faces = index.reshape(-1)[mesh.faces]
    kept = faces[
        (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    ]
    _, count, _ = _edges(kept, len(mesh.points))
    return int(np.count_nonzero(count == 1))
