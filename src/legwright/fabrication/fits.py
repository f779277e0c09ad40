"""The fits of a robot's hips: what runs in what, and what that leaves."""

from __future__ import annotations

from typing import NamedTuple

from legwright.fabrication.limits import Fit, Limits, fit, hole, shaft
from legwright.fabrication.seats import seats_of
from legwright.robot.robot import Robot

RING_UM = ((18.0, 8.0), (30.0, 9.0), (50.0, 11.0))
"""Outer diameter up to [mm] -> how much smaller a bearing's outer ring may be [µm]: normal
class of ISO 492 [from memory]."""


class Chosen(NamedTuple):
    """One fit."""

    where: str
    diameter: float
    """[m]"""
    hole: Limits
    shaft: Limits
    fit: Fit
    why: str


def fits_of(robot: Robot) -> tuple[Chosen, ...]:
    """Fits at the hips, one for each kind of servo that sits there.

    Bearing seats and pins are slid together by hand and secured by a shoulder or a flange;
    horn bosses are centred without play that could be felt.

    Args:
        robot: The robot.
    """
    found: dict[tuple[str, float], Chosen] = {}
    for seat in seats_of(robot).seats:
        mount = seat.servo.mount
        if mount is None or not seat.horn_down:
            continue
        if mount.bearing is not None:
            _add(found, "bearing seat in the lower plate", mount.bearing, _ring(mount.bearing),
                 "light sliding fit: the outer ring stands, its load does not turn")  # fmt: skip
        if mount.pin is not None:
            _add(found, "pin in the bracket", mount.pin, shaft(mount.pin, "m", 6),
                 "held fast in the bracket, pressed in by hand vice")  # fmt: skip
        if mount.horn_bore is not None:
            _add(found, "horn boss in the bracket", mount.horn_bore, shaft(mount.horn_bore, "h", 6),
                 "centred; the horn's screws carry the torque by clamping")  # fmt: skip
    return tuple(found.values())


def _add(
    found: dict[tuple[str, float], Chosen], where: str, diameter: float, pin: Limits, why: str
) -> None:
    bore = hole(diameter, 7)
    found.setdefault((where, diameter), Chosen(where, diameter, bore, pin, fit(bore, pin), why))


def _ring(diameter: float) -> Limits:
    under = next((value for most, value in RING_UM if diameter * 1e3 <= most), 13.0)
    return Limits(-under * 1e-6, 0.0, "ring")
