"""Meshes as convex hulls: read when first asked for, kept by file and scale."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from legwright.errors import RobotError
from legwright.robot.tree import Floats, read_only

THIN = 1e-4
"""Thickness given to a mesh that is flat or a line, so that it has a hull [m]."""


def hull_points(mesh: Path, scale: tuple[float, ...]) -> Floats:
    """Corners of the convex hull of a mesh file.

    Args:
        mesh: STL, OBJ, 3MF or whatever trimesh reads.
        scale: Along x, y, z.

    Returns:
        (N, 3) corners in the shape's own frame [m], at least four, not in one plane.

    Raises:
        RobotError: if the file cannot be read as a mesh.
    """
    try:
        written = mesh.stat().st_mtime_ns
    except OSError:
        raise RobotError(mesh, "", "is not there", "Put the mesh back.") from None
    return _hull(mesh, scale, written)


@lru_cache(maxsize=128)
def _hull(mesh: Path, scale: tuple[float, ...], written: int) -> Floats:
    """The hull's corners; ``written`` is when the file was, so that an edited one is read anew."""
    points = _vertices(mesh) * np.asarray(scale)
    spread = np.linalg.eigvalsh(np.cov(points.T))
    if spread[0] < 1e-9 * spread[2]:
        steps = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
        points = (points[:, None, :] + 0.5 * THIN * steps).reshape(-1, 3)
    from scipy.spatial import ConvexHull, QhullError

    try:
        corners = ConvexHull(points).vertices
    except QhullError:
        raise RobotError(mesh, "", "has no convex hull", "Export the mesh again.") from None
    return read_only(points[np.sort(corners)])


def _vertices(mesh: Path) -> Floats:
    import trimesh

    try:
        whole = trimesh.load(mesh, force="mesh", process=False)
        points = np.asarray(whole.vertices, dtype=np.float64)
    except Exception as error:  # translated at the border: readers raise anything
        raise RobotError(
            mesh,
            "",
            f"cannot be read as a mesh ({type(error).__name__})",
            "Export it as STL or OBJ, or remove it from the description.",
        ) from error
    if points.ndim != 2 or len(points) < 3 or not np.isfinite(points).all():
        raise RobotError(mesh, "", "holds no usable mesh", "Export it again, with finite corners.")
    return points
