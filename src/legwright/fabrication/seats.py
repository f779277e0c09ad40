"""Where servos sit in the body plates, and which way their bodies point."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import atan2, cos, hypot, sin

import numpy as np

from legwright.fabrication.contour import Point
from legwright.mechanics.reach import feet_of
from legwright.robot.paths import poses_from
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo
from legwright.robot.tree import Floats

UPRIGHT = 0.999
"""Least cosine between a joint axis and z for which a plate can hold its servo."""
DIGITS = 12
"""Of directions of servos."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """One servo in a plate."""

    name: str
    """Leg name, or joint name where it belongs to no leg."""
    joint: str
    at: Point
    """Its axis in the body frame [m]."""
    inward: float
    """Direction in which its body lies from the axis [rad]."""
    servo: Servo
    horn_down: bool
    """Whether the horn looks down into the gap between the plates: legs."""

    def place(self, x: float, y: float) -> Point:
        """A point of the servo's own frame, seen from above [m]."""
        c, s = cos(self.inward), sin(self.inward)
        side = -y if self.horn_down else y
        return self.at[0] + c * x - s * side, self.at[1] + s * x + c * side


@dataclass(frozen=True, slots=True, kw_only=True)
class Seats:
    """All servos of the trunk, and why some are not there."""

    seats: tuple[Seat, ...]
    missing: tuple[str, ...]
    """Keys of the sheet to fill in."""
    notes: tuple[str, ...]


@lru_cache(maxsize=4)
def seats_of(robot: Robot) -> Seats:
    """Servos that the body plates hold: those of upright joints on the trunk.

    Args:
        robot: The robot.

    Returns:
        Seats of legs, then of others; a leg's servo has its horn down, between the plates.
    """
    seats: list[Seat] = []
    missing: list[str] = []
    notes: list[str] = []
    middle = np.concatenate([_middle(leg.lower, leg.upper) for leg in robot.legs.values()])
    for leg, foot in zip(robot.legs.values(), feet_of(robot, middle), strict=True):
        axis = leg.chain.placements[0][:3, :3] @ leg.chain.axes[0]
        joint = leg.chain.moving_names[0]
        if abs(axis[2]) < UPRIGHT * np.linalg.norm(axis):
            notes.append(f"Joint '{joint}' is not upright: its servo sits in no flat plate.")
            continue
        servo = _mounted(robot, joint, missing)
        if servo is None:
            continue
        at = (float(leg.hip[0]), float(leg.hip[1]))
        inward = _direction(at[0] - float(foot[0]), at[1] - float(foot[1]))
        seats.append(
            Seat(name=leg.name, joint=joint, at=at, inward=inward, servo=servo, horn_down=True)
        )
    poses = poses_from(robot.tree, robot.body, dict(robot.held))
    for name in robot.held:
        joint_of = robot.tree.joints[name]
        if joint_of.parent != robot.body:
            continue
        pose = poses[joint_of.parent] @ joint_of.placement
        axis = pose[:3, :3] @ joint_of.axis
        if abs(axis[2]) < UPRIGHT:
            continue
        servo = _mounted(robot, name, missing)
        if servo is None:
            continue
        at = (float(pose[0, 3]), float(pose[1, 3]))
        inward = atan2(-at[1], -at[0]) if hypot(*at) > 1e-6 else atan2(0.0, -1.0)
        seats.append(
            Seat(name=name, joint=name, at=at, inward=inward, servo=servo, horn_down=False)
        )
    return Seats(
        seats=tuple(seats),
        missing=tuple(dict.fromkeys(missing)),
        notes=tuple(dict.fromkeys(notes)),
    )


def _direction(x: float, y: float) -> float:
    """Of a point seen from the origin [rad]; the same for all along a ray.

    Rounded: the last digits would change with a leg's length, and all that is made of a plate
    with them.
    """
    away = hypot(x, y) or 1.0
    return atan2(round(y / away, DIGITS) + 0.0, round(x / away, DIGITS) + 0.0)


def _middle(lower: Floats, upper: Floats) -> Floats:
    bounded = np.isfinite(lower) & np.isfinite(upper)
    low, high = np.where(bounded, lower, 0.0), np.where(bounded, upper, 0.0)
    return np.asarray((low + high) / 2.0)


def _mounted(robot: Robot, joint: str, missing: list[str]) -> Servo | None:
    servo = robot.servos.get(joint)
    if servo is None or not servo.id or servo.id == "urdf":
        missing.append("fit")
        return None
    if servo.size is None:
        missing.append(f"servo.{servo.id}.size")
        return None
    if servo.mount is None:
        missing.append(f"servo.{servo.id}.mount")
        return None
    return servo
