"""The layout of a robot: where its hips are and how long its segments, read off the legs.

It is read from the description itself, so it is the same for a sheet's [dimensions] and for
somebody else's URDF. Left and right must be mirrored; front and rear may be.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np

from legwright.errors import RequestError
from legwright.mechanics.kinematics import ClosedForm
from legwright.mechanics.knee import middle_of
from legwright.robot.leg import Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

X, Y, HEIGHT, ANGLE, COXA, FEMUR, TIBIA = range(7)
"""Columns of a layout."""
KINDS = ("hip_x", "hip_y", "hip_height", "hip_angle", "coxa", "femur", "tibia")
"""Names of the columns: place of the coxa axis, height of the femur axis, the way the leg points,
and the distances from axis to axis to foot."""
ANGLES = frozenset({"hip_angle"})

LIKE, ALIKE = 1e-4, 2e-3
"""Lengths [m] and angles [rad] nearer than this are meant to be the same: a tenth of a
millimetre, a tenth of a degree; CAD programs round."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Layout:
    """Today's dimensions of every leg."""

    legs: tuple[str, ...]
    values: Floats
    """(L, 7), columns as `KINDS` [m, rad]."""
    mirror: tuple[int, ...]
    """(L,): the leg on the other side."""
    swap: tuple[int, ...] | None
    """(L,): the leg at the other end of the same side; None where front and rear differ."""


def layout_of(robot: Robot, q: Floats) -> Layout:
    """Read the layout of a robot.

    Args:
        robot: The robot; its legs must be of three joints in closed form.
        q: A standing pose, (J,) [rad].

    Returns:
        The layout.

    Raises:
        RequestError: for a leg of another kind, or where left and right are not mirrored.
    """
    rows = [measures(leg, q[robot.columns[leg.name]]) for leg in robot.legs.values()]
    values = np.array(rows)
    names = tuple(robot.legs)
    mirror = _partners(values, names)
    if mirror is None:
        raise RequestError("robot", robot.name, _lopsided(values, names))
    return Layout(legs=names, values=read_only(values), mirror=mirror, swap=_ends(values))


def measures(leg: Leg, q: Floats) -> Floats:
    """The dimensions of one leg, (7,), columns as `KINDS`.

    Args:
        leg: The leg.
        q: As it stands, (3,) [rad]; tells which way it points.

    Raises:
        RequestError: for a leg that is not solved in closed form.
    """
    solver = leg.kinematics
    if not isinstance(solver, ClosedForm):
        raise RequestError(
            "robot",
            leg.name,
            "a leg of three rotary joints whose last two axes are parallel: round dimensions are "
            "worked out for such legs only",
        )
    m = solver.pack
    foot = _turned(m, leg.foot(q), q[0])
    side = 1.0 if foot[1] >= 0.0 else -1.0
    zero = q1_zero(m)
    frame = m[:9].reshape(3, 3)
    outward = side * (frame.T @ np.array([-np.sin(zero), np.cos(zero), 0.0]))
    across, out, up = m[14], m[15], m[16]
    at = np.array([m[12] * across - m[13] * up, out, m[13] * across + m[12] * up])
    c, s = np.cos(zero), np.sin(zero)
    femur_axis = m[9:12] + frame.T @ np.array([c * at[0] - s * at[1], s * at[0] + c * at[1], at[2]])
    yaw = float(np.arctan2(outward[1], outward[0]))
    return np.array([m[9], m[10], femur_axis[2], yaw, side * out, m[18], m[20]])


def q1_zero(pack: Floats) -> float:
    """Position of the first joint that the leg's direction is told at: 0, else mid travel [rad]."""
    inside = pack[22] <= 0.0 <= pack[25]
    return 0.0 if inside else float(middle_of(pack[22:23], pack[25:26])[0])


def _turned(m: Floats, point: Floats, q1: float) -> Floats:
    """A point of the body frame in the leg's frame after joint 1."""
    x, y, z = m[:9].reshape(3, 3) @ (point - m[9:12])
    c, s = np.cos(q1), np.sin(q1)
    return np.array([c * x + s * y, c * y - s * x, z])


def near_turn(angle: Floats | float) -> Floats:
    """An angle between -π and π."""
    return np.asarray((np.asarray(angle) + pi) % (2.0 * pi) - pi)


def _same(a: Floats, b: Floats) -> bool:
    """Whether two legs have the same measures; heights aside, which need not be mirrored."""
    lengths = np.delete(a - b, [ANGLE, HEIGHT])
    return bool(np.abs(lengths).max() < LIKE and abs(near_turn(a[ANGLE] - b[ANGLE])) < ALIKE)


def _matched(values: Floats, images: Floats) -> tuple[int, ...] | None:
    found = []
    for image in images:
        near = [index for index, row in enumerate(values) if _same(row, image)]
        if len(near) != 1:
            return None
        found.append(near[0])
    return tuple(found) if len(set(found)) == len(found) else None


def _partners(values: Floats, names: tuple[str, ...]) -> tuple[int, ...] | None:
    images = values.copy()
    images[:, Y] *= -1.0
    images[:, ANGLE] *= -1.0
    return _matched(values, images)


def _ends(values: Floats) -> tuple[int, ...] | None:
    images = values.copy()
    images[:, X] *= -1.0
    images[:, ANGLE] = pi - images[:, ANGLE]
    return _matched(values, images)


def _lopsided(values: Floats, names: tuple[str, ...]) -> str:
    """Which leg has no partner, in words."""
    for row, name in zip(values, names, strict=True):
        image = row.copy()
        image[[Y, ANGLE]] *= -1.0
        if not any(_same(other, image) for other in values):
            return (
                f"one with left and right mirrored: {name} at ({1e3 * row[X]:.1f}, "
                f"{1e3 * row[Y]:.1f}) mm, pointing to {np.degrees(row[ANGLE]):.1f}°, has no "
                "partner on the other side within 0.1 mm and 0.1°"
            )
    return "one with left and right mirrored, one leg for each place"
