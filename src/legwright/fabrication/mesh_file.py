"""Reading mesh files: STL, OBJ, 3MF, and STEP where a reader for it is installed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from legwright.errors import RobotError
from legwright.fabrication.mesh import Indices, Mesh
from legwright.fabrication.step_mesh import step_triangles
from legwright.robot.tree import Floats

UNITS = MappingProxyType({"mm": 1e-3, "cm": 1e-2, "m": 1.0, "inch": 0.0254, "um": 1e-6})
"""Units that a mesh may be drawn in, in metres."""

FORMATS = (".stl", ".obj", ".3mf", ".step", ".stp")

_HEAD = 84
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
_SPELLED = {"millimeter": "mm", "centimeter": "cm", "meter": "m", "micron": "um", "inches": "inch"}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MeshFile:
    """What a mesh file holds."""

    path: Path
    mesh: Mesh
    """In the file's own unit, before scaling; corners that coincide are one."""
    unit: str | None
    """The unit that the file itself states; None for STL and OBJ, which have none."""


def read_mesh(path: Path) -> MeshFile:
    """Read a mesh file.

    Args:
        path: STL (binary or text), OBJ, 3MF; STEP with the extra ``cad``.

    Returns:
        Triangles as they stand in the file.

    Raises:
        RobotError: with file and cure, if it is not there, empty, cut off or no mesh.
    """
    kind = path.suffix.lower()
    if kind not in FORMATS:
        raise _unusable(path, f"ends in '{kind}', which is no mesh format known here")
    try:
        size = path.stat().st_size
        is_file = path.is_file()
    except (OSError, ValueError):
        raise RobotError(path, "", "is not there", "Put the mesh back or correct its path.") from (
            None
        )
    if not is_file:
        raise _unusable(path, "is no file")
    if size == 0:
        raise _unusable(path, "is empty (0 bytes)")
    unit: str | None = None
    if kind == ".stl" and (soup := _binary_stl(path, size)) is not None:
        points, faces = welded(soup)
    elif kind == ".stl" and not _says_solid(path):
        raise _unusable(path, _no_stl(path, size))
    elif kind in (".step", ".stp"):
        points, faces = welded(np.round(step_triangles(path), 6))
        unit = "mm"
    else:
        points, faces, unit = _by_library(path)
    return MeshFile(path=path, mesh=_usable(path, points, faces), unit=unit)


def welded(soup: Floats) -> tuple[Floats, Indices]:
    """Triangles with corners of their own, joined where corners are exactly equal.

    Args:
        soup: (M, 3, 3); any float type.

    Returns:
        Points (N, 3) and faces (M, 3).
    """
    flat = np.ascontiguousarray(soup.reshape(-1, 3)) + 0.0  # -0.0 and 0.0 are one place
    if not len(flat):
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    word = np.uint32 if flat.dtype == np.float32 else np.uint64
    bits = flat.view(word).astype(np.uint64)
    mixed = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    for column in (1, 2):
        mixed = (mixed ^ (mixed >> np.uint64(31))) * np.uint64(0xBF58476D1CE4E5B9)
        mixed += bits[:, column] * np.uint64(0x94D049BB133111EB)
    order = np.argsort(mixed)
    ranked = mixed[order]
    fresh = np.r_[True, ranked[1:] != ranked[:-1]]
    index = np.empty(len(order), dtype=np.int64)
    index[order] = np.cumsum(fresh) - 1
    points = flat[order[fresh]]
    if not np.array_equal(points[index], flat):  # two places share a hash: join them slowly
        points, index = np.unique(flat, axis=0, return_inverse=True)
    return points.astype(np.float64), index.reshape(-1, 3).astype(np.int64)


def _binary_stl(path: Path, size: int) -> Floats | None:
    """Triangles of a binary STL, (M, 3, 3); None where its length does not fit its count."""
    if size < _HEAD:
        return None
    with path.open("rb") as file:
        count = int.from_bytes(file.read(_HEAD)[80:], "little")
        if size != _HEAD + count * _RECORD.itemsize:
            return None
        return np.asarray(np.fromfile(file, dtype=_RECORD, count=count)["corners"])


def _says_solid(path: Path) -> bool:
    with path.open("rb") as file:
        head = file.read(4096)
    return head.lstrip().startswith(b"solid") and b"facet" in head


def _no_stl(path: Path, size: int) -> str:
    if size < _HEAD:
        return f"is no STL: {size} bytes are fewer than its head"
    with path.open("rb") as file:
        count = int.from_bytes(file.read(_HEAD)[80:], "little")
    wanted = _HEAD + count * _RECORD.itemsize
    if count <= 50_000_000 and wanted > size:
        return f"is cut off: {count} triangles take {wanted} bytes, there are {size}"
    return f"is no STL: it neither begins with 'solid' nor has the length of {count} triangles"


def _by_library(path: Path) -> tuple[Floats, Indices, str | None]:
    """Text formats and archives, by the mesh library."""
    import trimesh

    try:
        loaded: Any = trimesh.load(path, force="mesh", process=False)
        points = np.asarray(loaded.vertices, dtype=np.float64)
        faces = np.asarray(loaded.faces, dtype=np.int64)
        unit = loaded.units
    except Exception as error:  # translated at the border: readers raise anything
        raise _unusable(path, f"cannot be read as a mesh ({type(error).__name__})") from error
    if faces.ndim == 2 and len(faces):
        points, faces = welded(points[faces])
    return points, faces, None if unit is None else _SPELLED.get(unit, unit)


def _usable(path: Path, points: Floats, faces: Indices) -> Mesh:
    """The mesh, once it holds triangles with finite corners that span something."""
    if faces.ndim != 2 or faces.shape[0] == 0 or points.ndim != 2:
        raise _unusable(path, "holds no triangle")
    if not np.isfinite(points).all():
        bad = int(np.count_nonzero(~np.isfinite(points).all(axis=1)))
        raise _unusable(path, f"has {bad} corners that are no finite numbers")
    if float(np.ptp(points, axis=0).max()) <= 0.0:
        raise _unusable(path, "has all corners in one point")
    if float(np.abs(points).max()) > 1e9:
        raise _unusable(path, f"has a corner at {np.abs(points).max():.3g}, beyond any part")
    return Mesh(points=points, faces=faces)


def _unusable(path: Path, problem: str) -> RobotError:
    return RobotError(path, "", problem, "Export the part again as STL, OBJ or 3MF.")
