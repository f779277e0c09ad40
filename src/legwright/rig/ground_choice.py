"""Grounds by name, scaled to the robot's legs: what the command line offers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from legwright.errors import RequestError, did_you_mean
from legwright.rig import grounds
from legwright.rig.ground import Ground
from legwright.rig.ground_file import KINDS, read_ground
from legwright.rig.roughness import CLASSES, density_for
from legwright.robot.robot import Robot

NAMES = (
    "flat", "slope", "steps", "step-field", "ramps", "crossing-ramps", "rough", "patches", "soft",
)  # fmt: skip
"""Names that `ground_of` knows, beside the ISO 8608 classes ``iso-a`` to ``iso-h``."""

SOFT_SOIL = 5e3
"""Stiffness of soft soil under one foot [N/m]; common practice, no published source."""


def leg_length(robot: Robot) -> float:
    """Length of the last two segments, femur and tibia, of the longest leg [m]."""
    lengths = []
    for leg in robot.legs.values():
        joints = leg.chain.placements[-1][:3, 3]
        lengths.append(float(np.linalg.norm(joints) + np.linalg.norm(leg.chain.foot)))
    return max(lengths)


def ground_of(
    robot: Robot,
    name: str,
    *,
    seed: int = 0,
    share: float = 0.25,
    length: float = 4.0,
    friction: float | None = None,
) -> Ground:
    """A ground by name, or from a height map file.

    Args:
        robot: Whose legs give the measure.
        name: One of `NAMES`, ``iso-a`` to ``iso-h``, or a path to a height map.
        seed: Of random heights.
        share: Height of steps over leg length; for `rough` that of steps as rough.
        length: Ahead of the start [m].
        friction: Coefficient of the ground; the feet's own when None.

    Returns:
        The ground.

    Raises:
        RequestError: if there is no such ground or the file is no height map.
    """
    if not (np.isfinite(share) and 0.0 < share <= 2.0):
        raise RequestError("height over leg length", share, "more than 0 and at most 2")
    size = leg_length(robot)
    made = _made(name, share * size, size, seed, length)
    return made if friction is None else replace(made, friction=friction)


def _made(name: str, height: float, size: float, seed: int, length: float) -> Ground:
    cell = grounds.CELL if size < 0.3 else 0.4 * size
    families = {
        "flat": lambda: grounds.flat(length=length),
        "slope": lambda: grounds.slope(np.radians(10.0), length=length),
        "steps": lambda: grounds.steps(height, seed=seed, cell=cell, length=length),
        "step-field": lambda: grounds.step_field(
            max(0.1, cell), unit=height / 3.0, seed=seed, length=length
        ),
        "ramps": lambda: grounds.ramps(tile=3.0 * size, length=length),
        "crossing-ramps": lambda: grounds.crossing_ramps(tile=2.0 * size, length=length),
        "rough": lambda: grounds.rough(density_for(height), seed=seed, length=length),
        "patches": lambda: grounds.with_patches(grounds.flat(length=length), 0.3, 0.8, seed=seed),
        "soft": lambda: replace(
            grounds.flat(length=length), name="soft", stiffness=SOFT_SOIL, about="soft level soil"
        ),
    }
    if name in families:
        return families[name]()
    if name.lower().startswith("iso-") and name[4:].upper() in CLASSES:
        return grounds.rough(name[4:], seed=seed, length=length)
    if Path(name).suffix.lower() in KINDS or Path(name).exists():
        return read_ground(name)
    allowed = f"a known ground, iso-a to iso-h, or a height map. {did_you_mean(name, NAMES)}"
    raise RequestError("ground", name, allowed)
