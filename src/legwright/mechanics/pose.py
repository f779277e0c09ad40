"""A robot that stands still, as a motion of one sample; slopes as tilted gravity."""

from __future__ import annotations

from math import cos, sin

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

GRAVITY = 9.80665
"""Standard gravity, CGPM 1901 [m/s²]."""


def gravity_on(slope: float = 0.0, uphill: float = 0.0) -> Floats:
    """Gravity in the ground frame of a slope.

    Args:
        slope: Angle of the ground against the horizontal [rad].
        uphill: Direction uphill in the ground plane, from its x axis to the left [rad]; 0
            where the robot looks uphill.

    Returns:
        (3,) [m/s²]
    """
    down = GRAVITY * sin(slope)
    return np.array([-down * cos(uphill), -down * sin(uphill), -GRAVITY * cos(slope)])


def rotations(quaternions: Floats) -> Floats:
    """Rotation matrices of unit quaternions (w, x, y, z), (..., 4) -> (..., 3, 3)."""
    w, x, y, z = np.moveaxis(quaternions, -1, 0)
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


def quaternion(R: Floats) -> Floats:
    """Unit quaternion (w, x, y, z), w >= 0, of a rotation matrix, (3, 3) -> (4,).

    Source: largest component first, Shepperd 1978 (from memory).
    """
    trace = np.trace(R)
    squares = 1.0 + np.array([trace, *(2.0 * np.diag(R) - trace)])  # 4 w², 4 x², 4 y², 4 z²
    off = np.array([R[2, 1] - R[1, 2], R[0, 2] - R[2, 0], R[1, 0] - R[0, 1]])
    big = int(np.argmax(squares))
    if big == 0:
        found = np.array([squares[0], *off])
    else:
        i = big - 1
        found = np.array([off[i], *(R[i] + R[:, i])])
        found[big] = squares[big]
    found = found / np.linalg.norm(found)
    return np.asarray(found if found[0] >= 0.0 else -found)


def ground_under(feet: Floats, contact: ArrayLike) -> tuple[Floats, Floats]:
    """The plane under the stance feet, seen from the body.

    Args:
        feet: Foot points in the body frame, (L, 3) [m].
        contact: Feet that stand, (L,).

    Returns:
        R (3, 3): rows are the ground frame's axes in body axes, its x along the body's
        heading; and the position (3,) of the body origin in the ground frame, over its
        origin [m]. The plane is the least-squares one; it is level with the body where the
        stance feet do not define one.
    """
    stance = feet[np.asarray(contact, dtype=np.bool_)]
    points = stance if len(stance) else feet
    centre = points.mean(axis=0)
    normal = np.array([0.0, 0.0, 1.0])
    if len(points) >= 3:
        _, sizes, rows = np.linalg.svd(points - centre, full_matrices=True)
        if sizes[1] > 1e-6 * sizes[0] > 0.0:
            normal = rows[2] * (1.0 if rows[2, 2] >= 0.0 else -1.0)
    forward = np.array([1.0, 0.0, 0.0]) - normal[0] * normal
    if np.linalg.norm(forward) < 1e-9:
        forward = np.array([0.0, 1.0, 0.0]) - normal[1] * normal
    forward = forward / np.linalg.norm(forward)
    R = np.array([forward, np.cross(normal, forward), normal])
    return R, np.array([0.0, 0.0, -normal @ centre])


def still(
    robot: Robot,
    q: ArrayLike,
    contact: ArrayLike | None = None,
    *,
    gravity: ArrayLike | None = None,
) -> Motion:
    """The robot at rest on its stance feet.

    Args:
        robot: The robot.
        q: Joint positions, (J,), or (T, J) for T separate poses [rad].
        contact: Feet that stand, (L,) or (T, L); all when None.
        gravity: In the ground frame, (3,) [m/s²]; straight down on level ground when None.

    Returns:
        A motion with all rates zero. The ground is the plane through the stance feet.

    Raises:
        RequestError: Where a shape does not fit.
    """
    poses = np.atleast_2d(np.asarray(q, dtype=np.float64))
    T, J, L = len(poses), len(robot.joint_names), len(robot.legs)
    if poses.shape != (T, J):
        raise RequestError("q", np.shape(q), f"of shape ({J},) or (T, {J})")
    mask = np.array(np.broadcast_to(True if contact is None else np.asarray(contact), (T, L)))
    feet = np.empty((T, L, 3))
    for index, leg in enumerate(robot.legs.values()):
        feet[:, index] = leg.foot(poses[:, robot.columns[leg.name]])
    body = np.empty((T, 7))
    for t in range(T):
        R, body[t, :3] = ground_under(feet[t], mask[t])
        body[t, 3:] = quaternion(R)
    return Motion(
        t=np.arange(T, dtype=np.float64),
        q=poses,
        qd=np.zeros((T, J)),
        qdd=np.zeros((T, J)),
        feet=feet,
        contact=mask,
        body=body,
        twist=np.zeros((T, 6)),
        acceleration=np.zeros((T, 6)),
        gravity=gravity_on() if gravity is None else np.asarray(gravity, dtype=np.float64),
        reach_error=np.zeros((T, L)),
        reached=np.ones((T, L), dtype=np.bool_),
        cycle=float(T),
        joint_names=robot.joint_names,
        leg_names=tuple(robot.legs),
    )
