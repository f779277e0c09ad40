"""The angle brackets that a robot's sheet asks for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import pi

from legwright.errors import RequestError
from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.clearance_holes import clearance_hole
from legwright.fabrication.openings import Opening, Purpose
from legwright.fabrication.plate_layout import servo_openings
from legwright.fabrication.seats import Seat
from legwright.robot.robot import Robot
from legwright.robot.same_numbers import Alike
from legwright.robot.servo import Servo
from legwright.robot.sheet_making import AngleKeys, Making


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Angles:
    """The brackets, and why others cannot be."""

    brackets: tuple[AngleBracket, ...] = ()
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Name -> keys of the sheet to fill in."""
    trouble: Mapping[str, str] = field(default_factory=dict)
    """Name -> why it cannot be, though all is stated."""

    @property
    def mass(self) -> float:
        """Of all of one robot [kg]."""
        return sum(bracket.mass * bracket.count for bracket in self.brackets)


def angle_brackets_of(robot: Robot) -> Angles:
    """All angle brackets of a robot.

    Args:
        robot: The robot.

    Returns:
        One for each kind, counted for all its places.
    """
    making, servos = robot.sheet.making, robot.sheet.servo
    held = {keys.holds: servos[keys.holds] for keys in making.angle.values() if keys.holds}
    return _folded(Alike(making, held)) if making.angle else Angles()


@lru_cache(maxsize=4)
def _folded(by: Alike) -> Angles:
    """The same of what they are made from; remembered, since few edits of a leg change that."""
    making: Making
    servos: Mapping[str, Servo]
    making, servos = by.args
    found: list[AngleBracket] = []
    missing: dict[str, tuple[str, ...]] = {}
    trouble: dict[str, str] = {}
    for name, keys in making.angle.items():
        lacks = _missing(keys, servos)
        if lacks:
            missing[name] = lacks
            continue
        try:
            found.append(_bracket(name, keys, making, servos))
        except RequestError as error:
            trouble[name] = str(error)
    return Angles(brackets=tuple(found), missing=missing, trouble=trouble)


def _missing(keys: AngleKeys, servos: Mapping[str, Servo]) -> tuple[str, ...]:
    if not keys.holds:
        return ()
    servo = servos[keys.holds]
    return tuple(
        f"servo.{keys.holds}.{key}" for key in ("size", "mount") if getattr(servo, key) is None
    )


def _bracket(
    name: str, keys: AngleKeys, making: Making, servos: Mapping[str, Servo]
) -> AngleBracket:
    plain = AngleBracket(
        name=f"angle-{name}", turn=keys.turn, base=keys.base, riser=keys.riser, width=keys.width,
        thickness=keys.thickness, radius=keys.radius, k_factor=keys.k_factor, density=keys.density,
        corner=keys.corner, material=keys.material, count=len(keys.places),
    )  # fmt: skip
    base = _screws("base screw", keys.base_holes, keys.base_screw, making, plain, riser=False)
    riser = _screws("riser screw", keys.riser_holes, keys.riser_screw, making, plain, riser=True)
    if keys.holds:
        seat = Seat(
            name=name, joint="", at=(plain.flat_x(keys.holds_at or 0.0, riser=True), 0.0),
            inward=pi / 2.0 if keys.holds_across else pi, servo=servos[keys.holds], horn_down=False,
        )  # fmt: skip
        riser = (*servo_openings(seat, making), *riser)
    return replace(plain, on_base=base, on_riser=riser)


def _screws(
    name: str, places: tuple[tuple[float, float], ...], thread: str, making: Making,
    bracket: AngleBracket, *, riser: bool,
) -> tuple[Opening, ...]:  # fmt: skip
    if not places:
        return ()
    screw = clearance_hole(thread, making.screw_fit)
    return tuple(
        Opening(
            name=f"{name} {number}", purpose=Purpose.SCREW,
            centre=(bracket.flat_x(out, riser=riser), side),
            diameter=screw.diameter, upper=screw.upper, fit=screw.grade, takes=thread,
        )
        for number, (out, side) in enumerate(places, start=1)
    )  # fmt: skip
