"""Whether feet come below everything else, so that the robot can stand on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from legwright.errors import RobotError
from legwright.robot.limb_places import Places
from legwright.robot.limbs import Limb
from legwright.robot.tree import Floats, Shape, ShapeKind

FEWEST = 3
"""Feet that a robot needs to stand at rest."""


def check_feet_reach(
    trunk: Iterable[tuple[Shape, Floats]], limbs: Sequence[Limb], places: Places, path: Path
) -> tuple[str, ...]:
    """Refuse a robot that would lie on its belly whatever its legs do.

    Args:
        trunk: Shapes of links rigid with the body, each with its pose in the body frame; meshes
            are left out.
        limbs: The legs.
        places: Their places in the body frame, in the same order.
        path: The file, for errors.

    Returns:
        A note on legs that cannot reach the ground beside others that do.

    Raises:
        RobotError: if fewer feet come below the trunk than standing needs.
    """
    lows = [
        lowest_point(shape, pose, places.up)
        for shape, pose in trunk
        if shape.kind is not ShapeKind.MESH
    ]
    if not lows:
        return ()
    belly = min(lows)
    slack = 0.05 * places.lengths  # sampled postures miss the very lowest one
    short = [
        limb for limb, gap in zip(limbs, places.lowest - slack - belly, strict=True) if gap > 0
    ]
    if len(limbs) - len(short) < min(FEWEST, len(limbs)):
        raise RobotError(
            path,
            f"link '{short[0].end}'",
            f"cannot come below the trunk's lowest point, {1e3 * belly:.0f} mm: "
            f"{len(short)} of {len(limbs)} feet cannot touch the ground",
            "Check joint axes, limits and leg lengths; z points up in the body frame.",
        )
    return tuple(
        f"The leg that ends in '{limb.end}' cannot reach below the trunk." for limb in short
    )


def lowest_point(shape: Shape, pose: Floats, up: Floats) -> float:
    """Least height of a shape other than a mesh.

    Args:
        shape: Box, cylinder or sphere.
        pose: Its pose, (4, 4).
        up: Unit vector, (3,).

    Returns:
        Height along `up` [m].
    """
    across = np.abs(up @ pose[:3, :3])
    height = float(up @ pose[:3, 3])
    if shape.kind is ShapeKind.BOX:
        return height - float(across @ np.array(shape.size)) / 2.0
    if shape.kind is ShapeKind.CYLINDER:
        radius, length = shape.size
        slant = float(np.hypot(across[0], across[1]))
        return height - radius * slant - length * float(across[2]) / 2.0
    return height - shape.size[0]
