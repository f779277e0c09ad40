"""A robot that stands still, as a motion of one sample; slopes as tilted gravity."""

from __future__ import annotations

from math import cos, sin, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.errors import RequestError
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

GRAVITY = 9.80665
"""Standard gravity, CGPM 1901 [m/s²]."""

MANY = 8
"""Rotation matrices from which on arrays are quicker than one after the other."""


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


def upward(quaternions: Floats) -> Floats:
    """The ground's z axis in body axes, (..., 4) -> (..., 3): the last row of `rotations`."""
    w, x, y, z = (quaternions[..., part] for part in range(4))
    return np.stack((2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)), axis=-1)


def quaternion(R: Floats) -> Floats:
    """Unit quaternion (w, x, y, z), w >= 0, of a rotation matrix, (3, 3) -> (4,).

    Source: largest component first, Shepperd 1978 (from memory).
    """
    (a, b, c), (d, e, f), (g, h, i) = np.asarray(R).tolist()
    squares = (1.0 + a + e + i, 1.0 + a - e - i, 1.0 - a + e - i, 1.0 - a - e + i)  # 4 w², 4 x², …
    big = squares.index(max(squares))
    found = (
        (squares[0], h - f, c - g, d - b),
        (h - f, squares[1], b + d, c + g),
        (c - g, b + d, squares[2], f + h),
        (d - b, c + g, f + h, squares[3]),
    )[big]
    size = sqrt(sum(part * part for part in found))
    return np.array(found) / (size if found[0] >= 0.0 else -size)


def quaternions(R: Floats) -> Floats:
    """As `quaternion`, of T matrices, (T, 3, 3) -> (T, 4)."""
    if len(R) < MANY:
        return np.array([quaternion(each) for each in R]).reshape(-1, 4)
    a, b, c, d, e, f, g, h, i = R.reshape(-1, 9).T
    squares = (1.0 + a + e + i, 1.0 + a - e - i, 1.0 - a + e - i, 1.0 - a - e + i)
    rows = np.array(
        [
            (squares[0], h - f, c - g, d - b),
            (h - f, squares[1], b + d, c + g),
            (c - g, b + d, squares[2], f + h),
            (d - b, c + g, f + h, squares[3]),
        ]
    )
    found = rows[np.argmax(squares, axis=0), :, np.arange(len(R))]
    w, x, y, z = found.T
    size = np.sqrt(w * w + x * x + y * y + z * z)
    return np.asarray(found / np.where(w >= 0.0, size, -size)[:, None])


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
    mask = np.asarray(contact, dtype=np.bool_)
    R, at = _grounds(np.asarray(feet)[None], mask[None])
    return R[0], at[0]


def _grounds(feet: Floats, contact: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """The same of T poses: feet (T, L, 3), contact (T, L) -> R (T, 3, 3), places (T, 3)."""
    bearing = np.where(contact.any(axis=1, keepdims=True), contact, True)
    counts = bearing.sum(axis=1)
    normal, depth = np.tile([0.0, 0.0, 1.0], (len(feet), 1)), np.empty(len(feet))
    for count in np.unique(counts):
        rows = np.flatnonzero(counts == count)
        points = feet[rows][bearing[rows]].reshape(len(rows), count, 3)
        centre = points.mean(axis=1)
        if count >= 3:
            _, sizes, axes = np.linalg.svd(points - centre[:, None], full_matrices=True)
            flat = (sizes[:, 1] > 1e-6 * sizes[:, 0]) & (sizes[:, 0] > 0.0)
            upward = np.where(axes[:, 2, 2:] >= 0.0, 1.0, -1.0) * axes[:, 2]
            normal[rows[flat]] = upward[flat]
        depth[rows] = (normal[rows] * centre).sum(axis=1)
    forward = np.array([1.0, 0.0, 0.0]) - normal[:, :1] * normal
    lengthwise = np.sqrt((forward * forward).sum(axis=1)) < 1e-9
    forward[lengthwise] = np.array([0.0, 1.0, 0.0]) - (normal[:, 1:2] * normal)[lengthwise]
    forward /= np.sqrt((forward * forward).sum(axis=1, keepdims=True))
    left = (
        normal[:, [1, 2, 0]] * forward[:, [2, 0, 1]] - normal[:, [2, 0, 1]] * forward[:, [1, 2, 0]]
    )
    places = np.zeros((len(feet), 3))
    places[:, 2] = -depth
    return np.stack([forward, left, normal], axis=1), places


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
    R, body[:, :3] = _grounds(feet, mask)
    body[:, 3:] = quaternions(R)
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
