"""The hip bracket that a robot's sheet asks for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import cos, pi, sin

from legwright.errors import RequestError
from legwright.fabrication.bracket import Bracket
from legwright.fabrication.clearance_holes import clearance_hole
from legwright.fabrication.contour import Point
from legwright.fabrication.limits import hole
from legwright.fabrication.openings import Opening, Purpose
from legwright.fabrication.seats import seats_of
from legwright.robot.robot import Robot
from legwright.robot.same_numbers import Alike
from legwright.robot.sheet_making import BracketKeys, Mount


@dataclass(frozen=True, slots=True, kw_only=True)
class HipBracket:
    """The bracket, or why there is none."""

    bracket: Bracket | None
    missing: tuple[str, ...] = ()
    trouble: str = ""
    """Why it cannot be, though all is stated."""


def hip_bracket_of(robot: Robot) -> HipBracket:
    """The folded bracket between coxa servo and coxa: horn above, pin below.

    Args:
        robot: The robot.

    Returns:
        One bracket, counted for all legs with an upright hip.
    """
    making = robot.sheet.making
    keys = making.bracket
    if keys is None:
        return HipBracket(bracket=None, missing=("making.bracket",))
    found = seats_of(robot)
    seats = [seat for seat in found.seats if seat.horn_down]
    if not seats:
        return HipBracket(bracket=None, missing=found.missing, trouble=" ".join(found.notes))
    servo = seats[0].servo
    mount = servo.mount
    missing = [
        f"servo.{servo.id}.mount.{name}"
        for name in ("horn_circle", "horn_bore", "pin")
        if mount is None or getattr(mount, name) is None
    ]
    if mount is None or missing:
        return HipBracket(bracket=None, missing=tuple(missing))
    return _folded(Alike(keys, mount, making.screw_fit, len(seats)))


@lru_cache(maxsize=4)
def _folded(by: Alike) -> HipBracket:
    """The same of what it is made from; remembered, since few edits of a leg change that."""
    keys: BracketKeys
    mount: Mount
    series: str
    count: int
    keys, mount, series, count = by.args
    web_width = keys.web_width or keys.width
    relief = 0.0 if web_width <= keys.width else keys.relief or keys.thickness
    screw = clearance_hole(keys.web_screw, series)
    web = tuple(
        Opening(
            name=f"web screw {number}", purpose=Purpose.SCREW, centre=(up, across),
            diameter=screw.diameter, upper=screw.upper, fit=screw.grade, takes=keys.web_screw,
        )
        for number, (across, up) in enumerate(keys.web_holes, start=1)
    )  # fmt: skip
    try:
        plain = Bracket(
            name="hip-bracket", height=keys.height, reach=keys.flange, end=keys.width / 2.0,
            width=keys.width, web_width=web_width, thickness=keys.thickness, radius=keys.radius,
            k_factor=keys.k_factor, relief=relief, density=keys.density, material=keys.material,
            web=web, count=count,
        )  # fmt: skip
        hip = plain.hip
    except RequestError as error:
        return HipBracket(bracket=None, trouble=str(error))
    return HipBracket(
        bracket=replace(
            plain, upper=_horn((hip, 0.0), mount, series), lower=(_pin((-hip, 0.0), mount),)
        )
    )


def _horn(centre: Point, mount: Mount, series: str) -> tuple[Opening, ...]:
    screw = clearance_hole(mount.horn_screw, series)
    bore, around = mount.horn_bore or 0.0, (mount.horn_circle or 0.0) / 2.0
    limits = hole(bore, 7)
    first = pi / mount.horn_holes
    angles = [first + 2.0 * pi * k / mount.horn_holes for k in range(mount.horn_holes)]
    return (
        Opening(
            name="horn boss", purpose=Purpose.FIT, centre=centre, diameter=bore,
            upper=limits.upper, fit=limits.name, takes="horn",
        ),
        *(
            Opening(
                name=f"horn screw {number}", purpose=Purpose.SCREW,
                centre=(centre[0] + around * cos(angle), centre[1] + around * sin(angle)),
                diameter=screw.diameter, upper=screw.upper, fit=screw.grade, takes=mount.horn_screw,
            )
            for number, angle in enumerate(angles, start=1)
        ),
    )  # fmt: skip


def _pin(centre: Point, mount: Mount) -> Opening:
    limits = hole(mount.pin or 0.0, 7)
    return Opening(
        name="pin", purpose=Purpose.FIT, centre=centre, diameter=mount.pin, upper=limits.upper,
        fit=limits.name, takes="pin",
    )  # fmt: skip
