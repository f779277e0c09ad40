"""A surface of triangles, and what follows from it in closed form: area, volume, inertia."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats, Solid, read_only

Indices = NDArray[np.int64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Mesh:
    """Triangles; anticlockwise seen from outside where the surface is right.

    What every question wants, corners, normals and areas, is worked out once.
    """

    points: Floats
    """Corners, (N, 3) [m]."""
    faces: Indices
    """(M, 3): the three corners of each triangle."""

    @cached_property
    def corners(self) -> Floats:
        """(M, 3, 3): triangle, corner, coordinate [m]."""
        return np.asarray(self.points[self.faces])

    @cached_property
    def middles(self) -> Floats:
        """(M, 3): centroids of the triangles [m]."""
        a, b, c = np.moveaxis(self.corners, 1, 0)
        return np.asarray((a + b + c) / 3.0)

    @cached_property
    def facing(self) -> tuple[Floats, Floats]:
        """Unit normals (M, 3), zero for triangles without area, and areas (M,) [m²]."""
        a, b, c = np.moveaxis(self.corners, 1, 0)
        u, v = b - a, c - a
        cross = np.empty_like(u)
        for k in range(3):
            i, j = (k + 1) % 3, (k + 2) % 3
            cross[:, k] = u[:, i] * v[:, j] - u[:, j] * v[:, i]
        twice = np.sqrt(np.einsum("ni,ni->n", cross, cross))
        cross /= np.where(twice > 0.0, twice, 1.0)[:, None]
        return cross, 0.5 * twice

    @property
    def extent(self) -> Floats:
        """Edges of the box around it, (3,) [m]."""
        return np.asarray(np.ptp(self.points, axis=0))

    def turned_out(self) -> Mesh:
        """The same surface seen from the other side."""
        return Mesh(points=self.points, faces=np.ascontiguousarray(self.faces[:, ::-1]))

    def moved(self, pose: Floats) -> Mesh:
        """The mesh in another frame, whose pose of the old one is ``pose``, (4, 4)."""
        return Mesh(points=self.points @ pose[:3, :3].T + pose[:3, 3], faces=self.faces)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Moments:
    """Integrals of 1, x and x xᵀ over a volume or a surface."""

    zeroth: float
    """Volume [m³] or area [m²]."""
    first: Floats
    """(3,)"""
    second: Floats
    """(3, 3)"""

    def __add__(self, other: Moments) -> Moments:
        return Moments(
            zeroth=self.zeroth + other.zeroth,
            first=self.first + other.first,
            second=self.second + other.second,
        )

    def times(self, factor: float) -> Moments:
        """All integrals multiplied, say by a density."""
        return Moments(
            zeroth=factor * self.zeroth, first=factor * self.first, second=factor * self.second
        )

    def solid(self) -> Solid:
        """Mass, centre of mass and inertia, the integrals being those of a mass [kg]."""
        centre = self.first / self.zeroth
        spread = self.second - self.zeroth * np.outer(centre, centre)
        inertia = np.trace(spread) * np.eye(3) - spread
        return Solid(mass=self.zeroth, com=read_only(centre), inertia=read_only(inertia))


def normals_and_areas(mesh: Mesh) -> tuple[Floats, Floats]:
    """Unit normals (M, 3), zero for triangles without area, and areas (M,) [m²]."""
    return mesh.facing


def volume_moments(mesh: Mesh) -> Moments:
    """Integrals over the enclosed volume; its sign tells which way the surface faces.

    Source: sum over signed tetrahedra; Tonon, J. Math. Stat. 1(1):8-11, 2005 (from memory).
    """
    middle = mesh.points.mean(axis=0)
    a, b, c = np.moveaxis(mesh.corners - middle, 1, 0)
    unit, area = mesh.facing
    six = 2.0 * area * np.einsum("ni,ni->n", a, unit)
    total = a + b + c
    second = np.einsum("n,ni,nj->ij", six, total, total, optimize=True)
    for corner in (a, b, c):
        second += np.einsum("n,ni,nj->ij", six, corner, corner, optimize=True)
    return _shifted(float(six.sum()) / 6.0, six @ total / 24.0, second / 120.0, middle)


def surface_moments(mesh: Mesh, weight: Floats | float = 1.0) -> Moments:
    """Integrals over the surface, each triangle weighted, (M,).

    Source: mid-edge rule, exact for squares; Zienkiewicz, Taylor, Zhu, The Finite Element Method
    (2005), table 5.3 (from memory).
    """
    middle = mesh.points.mean(axis=0)
    a, b, c = np.moveaxis(mesh.corners - middle, 1, 0)
    _, area = normals_and_areas(mesh)
    share = area * weight / 3.0
    first, second = np.zeros(3), np.zeros((3, 3))
    for one, two in ((a, b), (b, c), (c, a)):
        half = 0.5 * (one + two)
        first += share @ half
        second += np.einsum("n,ni,nj->ij", share, half, half, optimize=True)
    return _shifted(float(3.0 * share.sum()), first, second, middle)


def _shifted(zeroth: float, first: Floats, second: Floats, by: Floats) -> Moments:
    """Integrals about the frame's origin, from those about a point."""
    cross = np.outer(first, by)
    return Moments(
        zeroth=zeroth,
        first=read_only(first + zeroth * by),
        second=read_only(second + cross + cross.T + zeroth * np.outer(by, by)),
    )
