"""Poses as 4x4 matrices."""

from __future__ import annotations

from math import cos, sin

import numpy as np
from numpy.typing import ArrayLike

from legwright.robot.tree import Floats


def pose_of(xyz: tuple[float, float, float], rpy: tuple[float, float, float]) -> Floats:
    """Pose from a URDF origin.

    Args:
        xyz: Position [m].
        rpy: Roll, pitch, yaw about the fixed axes x, y, z, in this order [rad].

    Returns:
        (4, 4) matrix.

    Source: URDF specification, element ``origin``; REP-103, fixed-axis roll, pitch, yaw.
    """
    (cr, cp, cy), (sr, sp, sy) = map(cos, rpy), map(sin, rpy)
    return np.array(
        [
            [cy * cp, cy * sp * sr - sy * cr, cy * sp * cr + sy * sr, xyz[0]],
            [sy * cp, sy * sp * sr + cy * cr, sy * sp * cr - cy * sr, xyz[1]],
            [-sp, cp * sr, cp * cr, xyz[2]],
            [0.0, 0.0, 0.0, 1.0],
        ]
    )


def cross(a: Floats, b: Floats) -> Floats:
    """The vector product of two single vectors, (3,); quicker than the general one."""
    ax, ay, az = a.tolist()
    bx, by, bz = b.tolist()
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def inverse(pose: Floats) -> Floats:
    """The inverse of a pose, (4, 4)."""
    turn = pose[:3, :3].T
    result = np.eye(4)
    result[:3, :3] = turn
    result[:3, 3] = -turn @ pose[:3, 3]
    return result


def turned(axis: Floats, angle: ArrayLike) -> Floats:
    """Poses that turn by angles about a unit axis through the origin.

    Args:
        axis: Unit axis, (3,).
        angle: (...,) [rad]

    Returns:
        (..., 4, 4) matrices.

    Source: Rodrigues' formula; Lynch & Park, Modern Robotics (2017), eq. 3.51.
    """
    x, y, z = axis
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    angles = np.asarray(angle, dtype=np.float64)[..., None, None]
    result = _unmoved(angles.shape[:-2])
    result[..., :3, :3] += np.sin(angles) * cross + (1.0 - np.cos(angles)) * (cross @ cross)
    return result


def shifted(axis: Floats, distance: ArrayLike) -> Floats:
    """Poses that slide by distances (...,) [m] along a unit axis, (..., 4, 4)."""
    distances = np.asarray(distance, dtype=np.float64)[..., None]
    result = _unmoved(distances.shape[:-1])
    result[..., :3, 3] = distances * np.asarray(axis)
    return result


def _unmoved(shape: tuple[int, ...]) -> Floats:
    """Identity poses, (*shape, 4, 4)."""
    return np.broadcast_to(np.eye(4), (*shape, 4, 4)).copy()
