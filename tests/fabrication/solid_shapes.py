"""Surfaces with known answers."""

import numpy as np
import trimesh

from legwright.fabrication.mesh import Mesh


def of(surface: trimesh.Trimesh) -> Mesh:
    """A mesh of ours from one of trimesh."""
    return Mesh(
        points=np.asarray(surface.vertices, dtype=np.float64),
        faces=np.asarray(surface.faces, dtype=np.int64),
    )


def box(edges: tuple[float, float, float], at: tuple[float, float, float] = (0, 0, 0)) -> Mesh:
    """A box round a point."""
    made = trimesh.creation.box(edges)
    made.apply_translation(at)
    return of(made)


def joined(*parts: Mesh) -> Mesh:
    """Several surfaces as one."""
    starts = np.cumsum([0, *(len(part.points) for part in parts)])
    return Mesh(
        points=np.concatenate([part.points for part in parts]),
        faces=np.concatenate(
            [part.faces + start for part, start in zip(parts, starts, strict=False)]
        ),
    )


def hollow_box(edges: tuple[float, float, float], wall: float) -> Mesh:
    """A closed box with a cavity."""
    a, b, c = (edge - 2.0 * wall for edge in edges)
    return joined(box(edges), box((a, b, c)).turned_out())


def ball(radius: float, fineness: int = 4) -> Mesh:
    """A ball of 20·4ⁿ triangles."""
    return of(trimesh.creation.icosphere(subdivisions=fineness, radius=radius))
