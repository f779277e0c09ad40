"""Where the hips of a parametric walker lie, and what its legs are called."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

from legwright.robot.dimensions import Dimensions
from legwright.robot.leg_names import ranks


@dataclass(frozen=True, slots=True, kw_only=True)
class Hip:
    """One hip in the body frame."""

    name: str
    """Leg name as it stands in link and joint names: ``left_front``."""
    x: float
    y: float
    yaw: float
    """Direction in which the leg points [rad]."""
    side: int
    """1: shaped as a left leg; -1: its mirror image."""


def hips_of(shape: Dimensions) -> tuple[Hip, ...]:
    """The hips, left side front to rear, then the right side; around a ring from the front left.

    Args:
        shape: The measures.

    Returns:
        One hip for each leg.
    """
    if shape.ring is not None:
        return _on_ring(shape.legs, shape.ring)
    names = _row(len(shape.hips))
    left = [
        Hip(name=f"left{name}", x=x, y=y, yaw=yaw, side=1)
        for name, (x, y, yaw) in zip(names, shape.hips, strict=True)
    ]
    right = [
        Hip(name=f"right{name}", x=x, y=-y, yaw=-yaw, side=-1)
        for name, (x, y, yaw) in zip(names, shape.hips, strict=True)
    ]
    return (*left, *right)


def _row(count: int) -> list[str]:
    return [f"_{rank}" if rank else "" for rank in ranks(count)]


def _on_ring(legs: int, radius: float) -> tuple[Hip, ...]:
    """Evenly spaced: an even number lies mirrored, an odd one has one leg straight ahead."""
    step = 2.0 * pi / legs
    first = 0.0 if legs % 2 else step / 2.0
    angles = [first + step * number for number in range(legs)]
    left = [angle for angle in angles if 1e-9 < angle < pi - 1e-9]
    hips = []
    if legs % 2:
        hips.append(Hip(name="front", x=radius, y=0.0, yaw=0.0, side=1))
    for name, angle in zip(_row(len(left)), left, strict=True):
        x, y = radius * cos(angle), radius * sin(angle)
        hips.append(Hip(name=f"left{name}", x=x, y=y, yaw=angle, side=1))
    for name, angle in zip(_row(len(left)), left, strict=True):
        x, y = radius * cos(angle), radius * sin(angle)
        hips.append(Hip(name=f"right{name}", x=x, y=-y, yaw=-angle, side=-1))
    return tuple(hips)
