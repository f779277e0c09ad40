"""A chain as screws: joint axes and their places in the body frame, all joints at zero."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.robot.chain import Chain
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


class Screws(NamedTuple):
    """What the product-of-exponentials formula needs of one chain, body frame.

    Arrays are writable: to compiled code read-only ones are another type, compiled anew.

    Source: Lynch & Park, Modern Robotics (2017), sec. 4.1.
    """

    origin: Floats
    """(m, 3): a point on each joint axis [m]."""
    axis: Floats
    """(m, 3): unit direction of each joint axis."""
    slides: NDArray[np.bool_]
    """(m,): True where the joint is prismatic."""
    coupling: Floats
    """(m, n): rate of each joint per drive."""
    offset: Floats
    """(m,): joint positions with all drives at zero [rad or m]."""
    foot: Floats
    """(3,): foot point, all joints at zero [m]."""


@lru_cache(maxsize=4)
def leg_screws(robot: Robot) -> tuple[Screws, ...]:
    """The screws of a robot's legs, in order; remembered, since robots are frozen."""
    return tuple(screws_of(leg.chain) for leg in robot.legs.values())


def screws_of(chain: Chain) -> Screws:
    """The screws of a chain.

    Args:
        chain: Serial chain with m moving joints and n drives.

    Returns:
        Axes, places and foot point at zero, body frame.
    """
    pose = np.eye(4)
    origin, axis = [], []
    for placement, direction in zip(chain.placements, chain.axes, strict=True):
        pose = pose @ placement
        origin.append(pose[:3, 3].copy())
        axis.append(pose[:3, :3] @ direction)
    directions = np.array(axis)
    return Screws(
        origin=np.array(origin),
        axis=directions / np.linalg.norm(directions, axis=1, keepdims=True),
        slides=np.array(chain.prismatic, dtype=np.bool_),
        coupling=np.array(chain.coupling, dtype=np.float64, order="C"),
        offset=np.array(chain.offset, dtype=np.float64),
        foot=pose[:3, :3] @ chain.foot + pose[:3, 3],
    )
