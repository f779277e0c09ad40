"""How alike two chains of joints are, whatever their frames, zeros, signs and sides."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, sqrt

import numpy as np

from legwright.robot.placement import cross
from legwright.robot.tree import Floats, Joint, JointKind

ALIKE_LENGTH = 0.08
"""Share of the leg's length by which the parts of like legs may differ."""
ALIKE_ANGLE = 0.2
"""Radians by which the axes of like legs may differ."""
PARALLEL = 0.02
"""Sine of the angle below which two axes count as parallel."""


def signature(joints: Sequence[Joint]) -> tuple[Floats, Floats]:
    """What likeness is judged by: the same for mirrored chains and for any frames and zeros.

    Args:
        joints: The chain, fixed joints included; the first one moves.

    Returns:
        Distances between successive axes, then that of the end from the last axis, (m,) [m];
        angles between successive axes, 0 to pi/2, (m - 1,) [rad].

    Source: the parameters a and alpha of Denavit and Hartenberg (1955), which do not depend on
    the joint positions.
    """
    distances, angles = [], []
    axis, at = joints[0].axis, np.zeros(3)
    place = np.eye(4)
    for joint in joints[1:]:
        place = place @ joint.placement
        if not joint.moves:
            continue
        other, origin = place[:3, :3] @ joint.axis, place[:3, 3]
        square = cross(axis, other)
        sine = sqrt(float(square @ square))
        gap = origin - at
        apart = _aside(axis, gap) if sine < PARALLEL else abs(gap @ square) / sine
        distances.append(float(apart))
        angles.append(float(np.arctan2(sine, abs(axis @ other))))
        axis, at = other, origin
    distances.append(_aside(axis, place[:3, 3] - at))
    return np.array(distances), np.array(angles)


def _aside(axis: Floats, gap: Floats) -> float:
    """Distance of a point from an axis; the point seen from a point of the axis."""
    across = cross(axis, gap)
    return sqrt(float(across @ across))


def alike(one: Sequence[Joint], other: Sequence[Joint]) -> bool:
    """Whether two chains have the same joints at nearly the same distances."""
    if not same_kinds(one, other):
        return False
    first, second = signature(one), signature(other)
    length = max(stretched(one), stretched(other))
    return bool(
        np.all(np.abs(first[0] - second[0]) <= ALIKE_LENGTH * length)
        and np.all(np.abs(first[1] - second[1]) <= ALIKE_ANGLE)
    )


def same_kinds(one: Sequence[Joint], other: Sequence[Joint]) -> bool:
    """Whether the joints agree in sliding or turning; stops and drives don't matter."""

    def slides(joints: Sequence[Joint]) -> list[bool]:
        return [joint.kind is JointKind.PRISMATIC for joint in joints if joint.moves]

    return slides(one) == slides(other)


def stretched(joints: Sequence[Joint]) -> float:
    """Sum of the distances between successive joint origins and the end [m]."""
    return sum(hypot(*joint.placement[:3, 3].tolist()) for joint in joints[1:])
