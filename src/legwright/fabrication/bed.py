"""Does a part fit the printer, and where to split it when it does not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.fabrication.mesh import Mesh
from legwright.robot.tree import Floats, read_only

MARGIN = 2e-3
"""Kept free on each side of the print volume [m]; common practice, no published source."""
TURNS = 90
"""Turns about the vertical that are tried, over half a turn."""
CUTS = 9
"""Places tried for each cut, around even parts."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Fit:
    """How a part lies in a print volume."""

    room: float
    """Least room left on the three axes [m]; negative: too large by this."""
    turn: float
    """About the vertical, from the mesh's first level axis [rad]."""
    size: Floats
    """Box of the part as laid, (3,) [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Cut:
    """A plane that splits a part."""

    normal: Floats
    """Unit, mesh's frame, (3,)."""
    offset: float
    """Along it [m]."""
    area: float
    """Of the section: what has to be glued or bolted [m²]."""


def level_axes(up: Floats) -> Floats:
    """A turn whose third row is ``up``: rows are the bed's axes in the mesh's frame, (3, 3)."""
    up = np.asarray(up, dtype=np.float64)
    aside = np.eye(3)[int(np.argmin(np.abs(up)))]
    first = aside - (aside @ up) * up
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(up, first), up])


def fit(mesh: Mesh, up: Floats, volume: Floats, *, turns: int = TURNS) -> Fit:
    """Turn a part about the vertical so that it has most room in a print volume.

    Args:
        mesh: The part.
        up: Unit vector that points up while printing, (3,).
        volume: Width, depth, height of the print volume, (3,) [m].
        turns: How many are tried over half a turn; 2 keeps it square to the bed.

    Returns:
        The best turn, and how much room is left; `MARGIN` is kept on all sides.
    """
    axes = level_axes(up)
    laid = mesh.points @ axes.T
    tall = float(np.ptp(laid[:, 2]))
    plan = _outer(laid[:, :2])
    free = np.asarray(volume, dtype=np.float64) - [2.0 * MARGIN, 2.0 * MARGIN, 0.0]
    best: Fit | None = None
    for turn in np.arange(turns) * np.pi / turns:
        c, s = np.cos(turn), np.sin(turn)
        flat = plan @ np.array([[c, s], [-s, c]])
        size = np.r_[np.ptp(flat, axis=0), tall]
        room = float((free - size).min())
        if best is None or room > best.room + 1e-9:
            best = Fit(room=room, turn=float(turn), size=read_only(size))
    if best is None:
        raise ValueError("no turn was tried")
    return best


def cuts(mesh: Mesh, found: Fit, up: Floats, volume: Floats) -> tuple[Cut, ...]:
    """Planes that split a part into pieces that fit, across the axes on which it is too long.

    Each cut is moved a little from even parts to where the section is smallest.

    Args:
        mesh: The part.
        found: How it lies.
        up: As laid.
        volume: Print volume, (3,) [m].
    """
    axes = level_axes(up)
    c, s = np.cos(found.turn), np.sin(found.turn)
    turned = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) @ axes
    free = np.asarray(volume, dtype=np.float64) - [2.0 * MARGIN, 2.0 * MARGIN, 0.0]
    planes = []
    for normal, room, size in zip(turned, free, found.size, strict=True):
        along = mesh.points @ normal
        low, length = float(along.min()), float(size)
        parts = int(np.ceil(length / room - 1e-9))
        slack = parts * room - length
        for number in range(1, parts):
            even = low + length * number / parts
            tries = even + np.linspace(-0.45, 0.45, CUTS) * slack / max(parts - 1, 1)
            areas = [section_area(mesh, normal, offset) for offset in tries]
            best = int(np.argmin(areas))
            planes.append(
                Cut(normal=read_only(normal), offset=float(tries[best]), area=areas[best])
            )
    return tuple(planes)


def section_area(mesh: Mesh, normal: Floats, offset: float) -> float:
    """Area in which a plane cuts a closed part [m²].

    Args:
        mesh: A closed surface that faces outward.
        normal: Of the plane, unit, (3,).
        offset: Of the plane along its normal [m].

    Source: Green's theorem over the cut edges, each with the material on its left.
    """
    axes = level_axes(normal)
    height = mesh.points @ axes[2] - offset
    height = np.where(height == 0.0, 1e-15, height)
    over = height[mesh.faces] > 0.0
    crossed = np.flatnonzero(over.any(axis=1) & ~over.all(axis=1))
    flat = mesh.points @ axes[:2].T
    ends = np.zeros((2, len(crossed), 2))
    for side in range(3):
        a, b = mesh.faces[crossed, side], mesh.faces[crossed, (side + 1) % 3]
        up, down = height[b] > 0.0, height[a] > 0.0
        drop = np.where(up != down, height[a] - height[b], 1.0)
        share = (height[a] / drop)[:, None]
        spot = flat[a] + share * (flat[b] - flat[a])
        rises, falls = up & ~down, down & ~up
        ends[0][rises], ends[1][falls] = spot[rises], spot[falls]
    x, y = ends[..., 0], ends[..., 1]
    return abs(0.5 * float(np.sum(x[0] * y[1] - x[1] * y[0])))


def _outer(points: Floats) -> Floats:
    """Few points with the same extents: corners of the convex hull where there is one."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        return np.asarray(points[ConvexHull(points).vertices])
    except QhullError:
        return points
