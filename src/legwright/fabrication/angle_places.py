"""Where angle brackets stand on the body plates: the holes that the plates need for them."""

from __future__ import annotations

from math import cos, sin

from legwright.fabrication.clearance_holes import clearance_hole
from legwright.fabrication.openings import Opening, Purpose
from legwright.robot.sheet_making import Making


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
        for number, (x, y, way) in enumerate(keys.places, start=1):
            for hole, (out, side) in enumerate(keys.base_holes, start=1):
                at = (x + out * cos(way) - side * sin(way), y + out * sin(way) + side * cos(way))
                found.append(
                    Opening(
                        name=f"{name} {number}, screw {hole}", purpose=Purpose.SCREW, centre=at,
                        diameter=screw.diameter, upper=screw.upper, fit=screw.grade,
                        takes=keys.base_screw,
                    )
                )  # fmt: skip
    return tuple(found)
