"""Wall thickness: straight through the material, from many places on the surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.fabrication.mesh import Indices, Mesh, normals_and_areas
from legwright.fabrication.rays import BoxTree, ways_through
from legwright.robot.tree import Floats, read_only

SAMPLES = 20_000
"""Places on the surface from which rays start."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Walls:
    """Thickness at places spread evenly over the surface: each stands for the same area."""

    thickness: Floats
    """(S,) [m]; inf where a ray leaves by no surface: a hole in the mesh."""
    places: Floats
    """(S, 3): where each ray starts [m]."""
    face: Indices
    """(S,): triangle on which it starts."""
    area: float
    """Of the whole surface [m²]."""

    def share_below(self, limit: float) -> float:
        """Share of the surface under which the wall is thinner than a limit [m]."""
        return float(np.mean(self.thickness < limit))

    def quantile(self, share: float) -> float:
        """Thickness that this share of the surface falls below [m]; nan where no ray ended."""
        known = self.thickness[np.isfinite(self.thickness)]
        return float(np.quantile(known, share)) if len(known) else float("nan")


def walls(mesh: Mesh, tree: BoxTree, *, samples: int = SAMPLES) -> Walls:
    """Thickness by rays against the normal, from places spread evenly over the surface.

    What a ray tells is the way straight through: under a sloping far side or beside an edge it
    is more than the least distance to the other side, never less than it.

    Args:
        mesh: A surface that faces outward.
        tree: Over the same surface.
        samples: How many rays.

    Returns:
        The thickness at each place.
    """
    normal, area = normals_and_areas(mesh)
    places, face = spread(mesh, area, samples)
    thickness, _ = ways_through(tree, places, -normal[face], face)
    return Walls(
        thickness=read_only(thickness),
        places=read_only(places),
        face=face,
        area=float(area.sum()),
    )


def spread(mesh: Mesh, area: Floats, samples: int) -> tuple[Floats, Indices]:
    """Places spread evenly over a surface: even steps of area, even within each triangle.

    Args:
        mesh: The surface.
        area: Of each triangle, (M,) [m²].
        samples: How many.

    Returns:
        Places (S, 3) [m] and the triangle of each, (S,).

    Source: additive recurrence with powers of the plastic number; Roberts 2018 (from memory).
    """
    upto = np.cumsum(area)
    number = np.arange(samples) + 0.5
    face = np.minimum(
        np.searchsorted(upto, number / samples * upto[-1], side="right"), len(area) - 1
    )
    u, v = (number * step % 1.0 for step in (0.7548776662466927, 0.5698402909980532))
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    a, b, c = np.moveaxis(mesh.corners[face], 1, 0)
    return a + u[:, None] * (b - a) + v[:, None] * (c - a), face.astype(np.int64)
