"""Solids of revolution: a closed mesh, and volume and centre in closed form."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np

from legwright.fabrication.mesh import Mesh
from legwright.robot.tree import Floats

AROUND = 96
"""Facets of a turned mesh; its volume is 0.07 % under that of round."""

Corner = tuple[float, float]
"""Distance from the axis and height [m]."""


def arc(centre: Corner, radius: float, start: float, end: float, count: int) -> list[Corner]:
    """Corners on an arc, both ends included; angles from outward, upward [rad]."""
    turn = np.linspace(start, end, count + 1)
    return [
        (max(float(centre[0] + radius * np.cos(a)), 0.0), float(centre[1] + radius * np.sin(a)))
        for a in turn
    ]


def revolved(profile: Sequence[Corner], around: int = AROUND) -> Mesh:
    """A profile turned about the z axis.

    Args:
        profile: Corners from the axis to the axis, counter-clockwise with the axis on the left
            side closed: the first and the last lie on it, none else.
        around: Facets.

    Returns:
        A closed surface that faces outward [m].
    """
    inner = profile[1:-1]
    turn = 2.0 * pi * np.arange(around) / around
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    points = [
        np.column_stack([r * ring, np.full(around, z)]) for r, z in inner
    ]  # one ring for each corner
    ends = [[0.0, 0.0, profile[0][1]], [0.0, 0.0, profile[-1][1]]]
    here = np.arange(around)
    after = (here + 1) % around
    faces = []
    for number in range(len(inner) - 1):
        low, high = number * around, (number + 1) * around
        faces += [
            np.stack([low + here, low + after, high + after], axis=1),
            np.stack([low + here, high + after, high + here], axis=1),
        ]
    first, last = len(inner) * around, len(inner) * around + 1
    top = (len(inner) - 1) * around
    faces.append(np.stack([np.full(around, first), after, here], axis=1))
    faces.append(np.stack([np.full(around, last), top + here, top + after], axis=1))
    return Mesh(
        points=np.concatenate([*points, np.array(ends)]),
        faces=np.concatenate(faces).astype(np.int64),
    )


def frustum(low: float, high: float, height: float) -> float:
    """Volume of a cone cut off, from its two radii [m³]; textbook."""
    return pi * height * (low * low + low * high + high * high) / 3.0


def turned_volume(profile: Sequence[Corner]) -> float:
    """Volume of a turned polygon: its sides' cones added up, signed [m³].

    Source: Pappus and Guldin; Green's theorem over the profile.
    """
    corners: Floats = np.array(profile)
    r, z = corners.T
    after = np.roll(np.arange(len(r)), -1)
    return float(pi / 3.0 * ((r * r + r * r[after] + r[after] ** 2) * (z[after] - z)).sum())
