"""Links as solids of corners and flat faces: what pictures and recordings show of a robot."""

from __future__ import annotations

from functools import lru_cache
from math import pi

import numpy as np

from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Shape, ShapeKind

Solid = tuple[Floats, tuple[tuple[int, ...], ...]]
"""Corners (N, 3) in the link's frame [m], and flat faces seen anticlockwise from outside."""


def solids_of(robot: Robot, link: str) -> list[Solid]:
    """Solids of a link; thin bars to the joints that it carries where it has no shape.

    A mesh counts as its convex hull; one that cannot be read is left out.

    Args:
        robot: The robot.
        link: Name of the link.

    Returns:
        One solid per shape.
    """
    solids = [solid_of(shape) for shape in robot.tree.links[link].shapes]
    return [solid for solid in solids if solid is not None] or _bars(robot, link)


_BOX_FACES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
_ROUND = 28


def solid_of(shape: Shape) -> Solid | None:
    """Solid of a shape; None for a mesh that cannot be read."""
    faces: tuple[tuple[int, ...], ...] = ()
    if shape.kind is ShapeKind.BOX:
        points, faces = _box(np.asarray(shape.size, dtype=np.float64) / 2.0), _BOX_FACES
    elif shape.kind is ShapeKind.CYLINDER:
        radius, length = shape.size[0], shape.size[1]
        turn = np.arange(_ROUND) * 2.0 * pi / _ROUND
        ring = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)
        points = np.concatenate(
            [np.c_[ring, np.full(_ROUND, -length / 2)], np.c_[ring, np.full(_ROUND, length / 2)]]
        )
        faces = (tuple(range(_ROUND - 1, -1, -1)), tuple(range(_ROUND, 2 * _ROUND)))
    elif shape.kind is ShapeKind.SPHERE:
        points = _ball(shape.size[0])
    else:
        mesh = _mesh_points(str(shape.mesh), shape.size)
        if mesh is None:
            return None
        points = mesh
    return points @ shape.placement[:3, :3].T + shape.placement[:3, 3], faces


def _box(half: Floats) -> Floats:
    signs = np.array([[x, y, z] for z in (-1, 1) for y in (-1, 1) for x in (-1, 1)])
    return np.asarray(signs * half, dtype=np.float64)


def _ball(radius: float) -> Floats:
    turn = np.arange(_ROUND) * 2.0 * pi / _ROUND
    rings = []
    for tilt in np.arange(1, 12) * pi / 12.0:
        rings.append(
            np.stack(
                [
                    np.sin(tilt) * np.cos(turn),
                    np.sin(tilt) * np.sin(turn),
                    np.full(_ROUND, np.cos(tilt)),
                ],
                axis=-1,
            )
        )
    return np.asarray(np.concatenate(rings) * radius, dtype=np.float64)


@lru_cache(maxsize=64)
def _mesh_points(path: str, scale: tuple[float, ...]) -> Floats | None:
    """Convex hull corners of a mesh file; None where it cannot be read."""
    try:
        import trimesh

        mesh = trimesh.load(path, force="mesh")
        points = np.asarray(mesh.convex_hull.vertices, dtype=np.float64)
    except Exception:  # whatever a mesh reader throws, the drawing goes on without that shape
        return None
    return np.asarray(points * np.asarray(scale), dtype=np.float64) if len(points) else None


def _bars(robot: Robot, link: str) -> list[Solid]:
    """Thin bars from a link's frame to the joints that it carries."""
    bars: list[Solid] = []
    for name in robot.tree.child_joints.get(link, ()):
        end = robot.tree.joints[name].placement[:3, 3]
        length = float(np.linalg.norm(end))
        if length > 1e-4:
            along = end / length
            aside = np.cross(along, [0.0, 0.0, 1.0] if abs(along[2]) < 0.9 else [1.0, 0.0, 0.0])
            aside *= 0.03 * length / np.linalg.norm(aside)
            up = np.cross(along, aside)
            ring = np.array([aside, up, -aside, -up])
            bars.append((np.concatenate([ring, ring + end]), ()))
    return bars
