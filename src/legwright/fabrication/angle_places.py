"""Where angle brackets stand on the body plates: the holes that the plates need for them."""

from __future__ import annotations

from math import cos, sin

import numpy as np

from legwright.fabrication.clearance_holes import clearance_hole
from legwright.fabrication.openings import Opening, Purpose
from legwright.robot.sheet_making import AngleKeys, Making
from legwright.robot.tree import Floats


def plate_holes(making: Making, plate: str) -> tuple[Opening, ...]:
    """Screw holes of a plate for the angle brackets on it.

    Args:
        making: The sheet's.
        plate: ``upper`` or ``lower``.
    """
    found = []
    for name, keys in making.angle.items():
        if keys.on != plate:
            continue
        screw = clearance_hole(keys.base_screw, making.screw_fit)
        turned = 1.0 if keys.side == "above" else -1.0
        for number, (x, y, way) in enumerate(keys.places, start=1):
            for hole, (out, across) in enumerate(keys.base_holes, start=1):
                side = turned * across
                at = (x + out * cos(way) - side * sin(way), y + out * sin(way) + side * cos(way))
                found.append(
                    Opening(
                        name=f"{name} {number}, screw {hole}", purpose=Purpose.SCREW, centre=at,
                        diameter=screw.diameter, upper=screw.upper, fit=screw.grade,
                        takes=keys.base_screw,
                    )
                )  # fmt: skip
    return tuple(found)


def pose_on_plate(keys: AngleKeys, place: tuple[float, float, float], face: float) -> Floats:
    """Pose of a bracket in the body frame.

    Args:
        keys: What the sheet says of it.
        place: One of its places.
        face: Height of the plate's face that its base lies on [m].

    Returns:
        (4, 4). One that hangs under its plate is turned over about the line of its base.
    """
    x, y, way = place
    c, s = cos(way), sin(way)
    over = 1.0 if keys.side == "above" else -1.0
    return np.array(
        [
            [c, -s * over, 0.0, x],
            [s, c * over, 0.0, y],
            [0.0, 0.0, over, face],
            [0.0, 0.0, 0.0, 1.0],
        ]
    )
