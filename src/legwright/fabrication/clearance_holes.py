"""Clearance holes for screws after ISO 273:1979."""

from __future__ import annotations

from types import MappingProxyType
from typing import NamedTuple

from legwright.errors import RequestError, did_you_mean

SOURCE = "ISO 273:1979"


class ClearanceHole(NamedTuple):
    """The hole that a screw passes through."""

    screw: str
    series: str
    diameter: float
    """[m]"""
    upper: float
    """Upper deviation; the lower one is zero [m]."""
    grade: str
    """Tolerance class of ISO 286: H12, H13 or H14."""


_HOLES_MM = MappingProxyType(
    {
        "M1.6": (1.7, 1.8, 2.0),
        "M2": (2.2, 2.4, 2.6),
        "M2.5": (2.7, 2.9, 3.1),
        "M3": (3.2, 3.4, 3.6),
        "M4": (4.3, 4.5, 4.8),
        "M5": (5.3, 5.5, 5.8),
        "M6": (6.4, 6.6, 7.0),
        "M8": (8.4, 9.0, 10.0),
        "M10": (10.5, 11.0, 12.0),
        "M12": (13.0, 13.5, 14.5),
    }
)
"""Fine, medium, coarse. M1.6 to M5 against two copies; M6 to M12 from memory of the standard."""
SERIES = MappingProxyType({"fine": 12, "medium": 13, "coarse": 14})
"""Series -> grade of its tolerance."""
SCREWS = tuple(_HOLES_MM)


def clearance_hole(screw: str, series: str = "medium") -> ClearanceHole:
    """The hole for a screw.

    Args:
        screw: Thread, ``M3``.
        series: fine, medium or coarse.

    Returns:
        Diameter and tolerance.

    Raises:
        RequestError: for a thread or a series that the table does not hold.
    """
    from legwright.fabrication.limits import tolerance_grade

    if screw not in _HOLES_MM:
        raise RequestError("screw", screw, f"a metric thread. {did_you_mean(screw, SCREWS)}")
    if series not in SERIES:
        raise RequestError("series", series, f"one of {', '.join(SERIES)}")
    diameter = _HOLES_MM[screw][list(SERIES).index(series)] * 1e-3
    grade = SERIES[series]
    return ClearanceHole(screw, series, diameter, tolerance_grade(diameter, grade), f"H{grade}")


def screw_diameter(screw: str) -> float:
    """Nominal diameter of a screw [m]; `clearance_hole` for errors."""
    if screw not in _HOLES_MM:
        raise RequestError("screw", screw, f"a metric thread. {did_you_mean(screw, SCREWS)}")
    return float(screw[1:]) * 1e-3
