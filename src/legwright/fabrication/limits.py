"""Limits and fits after ISO 286: tolerance grades, holes H, and the shafts used with them.

Grades IT5 to IT14 and the deviations g, h, k, m, p up to 120 mm, which is all that screws,
horns and bearings of a walker need. Values from ISO 286-1:2010 table 1 and ISO 286-2 as
printed in workshop tables [from memory]; the tests hold them against an independent library.
"""

from __future__ import annotations

from bisect import bisect_left
from types import MappingProxyType
from typing import NamedTuple

from legwright.errors import RequestError

SOURCE = "ISO 286-1:2010, ISO 286-2:2010"

_STEPS_MM = (3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0)
_GRADES_UM = MappingProxyType(
    {
        5: (4, 5, 6, 8, 9, 11, 13, 15),
        6: (6, 8, 9, 11, 13, 16, 19, 22),
        7: (10, 12, 15, 18, 21, 25, 30, 35),
        8: (14, 18, 22, 27, 33, 39, 46, 54),
        9: (25, 30, 36, 43, 52, 62, 74, 87),
        10: (40, 48, 58, 70, 84, 100, 120, 140),
        11: (60, 75, 90, 110, 130, 160, 190, 220),
        12: (100, 120, 150, 180, 210, 250, 300, 350),
        13: (140, 180, 220, 270, 330, 390, 460, 540),
        14: (250, 300, 360, 430, 520, 620, 740, 870),
    }
)
_UPPER_UM = MappingProxyType(
    {
        "g": (-2, -4, -5, -6, -7, -9, -10, -12),
        "h": (0, 0, 0, 0, 0, 0, 0, 0),
    }
)
"""Upper deviation es of shafts below the line."""
_LOWER_UM = MappingProxyType(
    {
        "k": (0, 1, 1, 1, 2, 2, 2, 3),
        "m": (2, 4, 6, 7, 8, 9, 11, 13),
        "p": (6, 12, 15, 18, 22, 26, 32, 37),
    }
)
"""Lower deviation ei of shafts above the line; k for grades 4 to 7."""


class Limits(NamedTuple):
    """Deviations from the nominal diameter [m]."""

    lower: float
    upper: float
    name: str
    """``H7``"""


class Fit(NamedTuple):
    """What hole and shaft leave each other."""

    least: float
    """Smallest clearance; negative: interference [m]."""
    most: float
    """Largest clearance [m]."""
    name: str
    """``H7/g6``"""

    @property
    def kind(self) -> str:
        """``clearance``, ``transition`` or ``interference``."""
        if self.least >= 0.0:
            return "clearance"
        return "interference" if self.most <= 0.0 else "transition"


def tolerance_grade(diameter: float, grade: int) -> float:
    """Width of a tolerance.

    Args:
        diameter: Nominal, up to 0.12 [m].
        grade: 5 to 14.

    Returns:
        [m]

    Raises:
        RequestError: outside the table.

    Source: ISO 286-1:2010, table 1.
    """
    if grade not in _GRADES_UM:
        raise RequestError("tolerance grade", grade, "a whole number from 5 to 14")
    return _GRADES_UM[grade][_step(diameter)] * 1e-6


def hole(diameter: float, grade: int = 7) -> Limits:
    """A hole H: its lower deviation is zero.

    Args:
        diameter: Nominal [m].
        grade: 5 to 14.
    """
    return Limits(0.0, tolerance_grade(diameter, grade), f"H{grade}")


def shaft(diameter: float, letter: str, grade: int = 6) -> Limits:
    """A shaft g, h, k, m or p.

    Args:
        diameter: Nominal [m].
        letter: Its fundamental deviation.
        grade: 5 to 14; k, m and p 5 to 7.

    Raises:
        RequestError: for a letter that the table does not hold.
    """
    wide = tolerance_grade(diameter, grade)
    name = f"{letter}{grade}"
    if letter in _UPPER_UM:
        upper = _UPPER_UM[letter][_step(diameter)] * 1e-6
        return Limits(upper - wide, upper, name)
    if letter in _LOWER_UM and grade <= 7:
        lower = _LOWER_UM[letter][_step(diameter)] * 1e-6
        return Limits(lower, lower + wide, name)
    raise RequestError("shaft", name, "g, h (any grade), or k, m, p (5 to 7)")


def fit(bore: Limits, pin: Limits) -> Fit:
    """What a hole and a shaft of the same nominal size leave each other.

    Args:
        bore: The hole.
        pin: The shaft.
    """
    return Fit(bore.lower - pin.upper, bore.upper - pin.lower, f"{bore.name}/{pin.name}")


def _step(diameter: float) -> int:
    millimetres = round(diameter * 1e3, 9)
    if not 0.0 < millimetres <= _STEPS_MM[-1]:
        raise RequestError("diameter", f"{millimetres:g} mm", "over 0 and up to 120 mm")
    return bisect_left(_STEPS_MM, millimetres)
