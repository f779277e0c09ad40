"""Rays through a surface of many triangles: a tree of boxes over it, first hits, windings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.fabrication._ray_kernel import LEAF, first_hits
from legwright.fabrication.mesh import Indices, Mesh
from legwright.robot.tree import Floats

SLANT = np.array([0.57273, 0.51117, 0.64091])
"""Direction of rays that count windings: along no edge that a designer draws."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BoxTree:
    """A binary tree of boxes, stored as a heap: box i holds boxes 2 i + 1 and 2 i + 2.

    The last level's boxes hold `LEAF` triangles each, in the order of a space-filling curve.
    """

    low: Floats
    """(B, 3) [m]; inf for a box that holds nothing."""
    high: Floats
    """(B, 3) [m]"""
    corners: Floats
    """(M, 3, 3): the triangles in the tree's order [m]."""
    order: Indices
    """(M,): which triangle of the mesh each is."""


def box_tree(mesh: Mesh) -> BoxTree:
    """A tree of boxes over a mesh.

    Source: order along a Z-curve; Lauterbach et al., Comput. Graph. Forum 28(2):375-384, 2009.
    """
    corners = mesh.corners
    order = np.argsort(_curve(mesh.middles))
    corners = np.ascontiguousarray(corners[order])
    leaves = max(1, 1 << int(np.ceil(np.log2(max(1, -(-len(corners) // LEAF))))))
    low = np.full((2 * leaves - 1, 3), np.inf)
    high = np.full((2 * leaves - 1, 3), -np.inf)
    starts = np.arange(0, len(corners), LEAF)
    last = slice(leaves - 1, leaves - 1 + len(starts))
    low[last] = np.minimum.reduceat(corners.min(axis=1), starts)
    high[last] = np.maximum.reduceat(corners.max(axis=1), starts)
    first = leaves - 1
    while first:
        above, here = (first - 1) // 2, slice(first, 2 * first + 1)
        low[above:first] = low[here].reshape(-1, 2, 3).min(axis=1)
        high[above:first] = high[here].reshape(-1, 2, 3).max(axis=1)
        first = above
    return BoxTree(low=low, high=high, corners=corners, order=order)


def ways_through(
    tree: BoxTree, origins: Floats, directions: Floats, skip: Indices
) -> tuple[Floats, Indices]:
    """Where rays leave the solid first.

    Args:
        tree: Over the surface.
        origins: (R, 3) [m]
        directions: Unit vectors, (R, 3).
        skip: Triangle of the mesh that each ray starts on, -1 for none, (R,).

    Returns:
        Distance to the first triangle seen from behind, (R,) [m], inf for none, and that
        triangle, -1 for none.
    """
    distance = np.full(len(origins), np.inf)
    face = np.full(len(origins), -1, dtype=np.int64)
    first_hits(
        tree.low, tree.high, tree.corners, tree.order,
        np.ascontiguousarray(origins), np.ascontiguousarray(directions), skip, 1, distance, face,
    )  # fmt: skip
    return distance, face


def seen_from(
    tree: BoxTree, origins: Floats, directions: Floats, skip: Indices
) -> tuple[Floats, Indices]:
    """Where rays meet the surface first, from either side; as `ways_through`."""
    distance = np.full(len(origins), np.inf)
    face = np.full(len(origins), -1, dtype=np.int64)
    first_hits(
        tree.low, tree.high, tree.corners, tree.order,
        np.ascontiguousarray(origins), np.ascontiguousarray(directions), skip, 0, distance, face,
    )  # fmt: skip
    return distance, face


def windings(corners: Floats, spots: Floats, piece: Indices, skip: Indices) -> Indices:
    """How many times other pieces of a surface enclose points.

    Args:
        corners: Of all triangles, (M, 3, 3) [m].
        spots: (S, 3) [m]
        piece: Piece of each triangle, (M,).
        skip: For each point, the piece left out, (S,).

    Returns:
        (S,): 1 inside one outward facing surface, 0 outside.

    Source: signed crossings of a ray; Moeller and Trumbore, J. Graph. Tools 2(1):21-28, 1997.
    """
    way = SLANT / np.linalg.norm(SLANT)
    a, b, c = np.moveaxis(corners, 1, 0)
    e, f = b - a, c - a
    p = np.cross(way, f)
    det = np.einsum("ni,ni->n", e, p)
    inverse = np.divide(1.0, det, out=np.zeros_like(det), where=det != 0.0)
    count = np.zeros(len(spots), dtype=np.int64)
    for number, spot in enumerate(spots):
        s = spot - a
        u = np.einsum("ni,ni->n", s, p) * inverse
        q = np.cross(s, e)
        v = q @ way * inverse
        t = np.einsum("ni,ni->n", f, q) * inverse
        hit = (det != 0.0) & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (t > 0.0)
        hit &= piece != skip[number]
        count[number] = int(np.sum(-np.sign(det[hit])))
    return count


def _curve(points: Floats) -> Indices:
    """Place of points along a Z-curve, 21 bits a coordinate."""
    low, size = points.min(axis=0), np.ptp(points, axis=0)
    cells = (points - low) / np.where(size > 0.0, size, 1.0) * (2**21 - 1)
    place = np.zeros(len(points), dtype=np.uint64)
    for axis in range(3):
        x = cells[:, axis].astype(np.uint64)
        for shift, mask in (
            (32, 0x1F00000000FFFF),
            (16, 0x1F0000FF0000FF),
            (8, 0x100F00F00F00F00F),
            (4, 0x10C30C30C30C30C3),
            (2, 0x1249249249249249),
        ):
            x = (x | (x << np.uint64(shift))) & np.uint64(mask)
        place |= x << np.uint64(axis)
    return place.astype(np.int64)
