"""General tolerances of lengths and angles after ISO 2768-1:1989.

Values from memory, compared with copies of the standard; the row c of 0.5 to 3 mm is printed
as ±0.15 in one copy of the German forerunner and as ±0.2 in the others (±0.2 here). Check
against the standard itself before a contract rests on them.
"""

from __future__ import annotations

from bisect import bisect_left
from math import radians

from legwright.errors import RequestError

SOURCE = "ISO 2768-1:1989"
CLASSES = ("f", "m", "c", "v")

_EDGES_MM = (3.0, 6.0, 30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0)
"""Upper ends of the ranges of nominal size; each belongs to its range."""
_SMALLEST_MM = 0.5
_LINEAR_MM: dict[str, tuple[float | None, ...]] = {
    "f": (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, None),
    "m": (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2, 2.0),
    "c": (0.2, 0.3, 0.5, 0.8, 1.2, 2.0, 3.0, 4.0),
    "v": (None, 0.5, 1.0, 1.5, 2.5, 4.0, 6.0, 8.0),
}
_LEGS_MM = (10.0, 50.0, 120.0, 400.0)
_MINUTES: dict[str, tuple[float, ...]] = {
    "f": (60.0, 30.0, 20.0, 10.0, 5.0),
    "m": (60.0, 30.0, 20.0, 10.0, 5.0),
    "c": (90.0, 60.0, 30.0, 15.0, 10.0),
    "v": (180.0, 120.0, 60.0, 30.0, 20.0),
}


def length_deviation(nominal: float, grade: str) -> float | None:
    """Limit deviation of a length.

    Args:
        nominal: Nominal length, >= 0 [m].
        grade: f, m, c or v.

    Returns:
        Half of the tolerance, ± [m]; None where the standard states none: above 4 m, under
        3 mm in class v, over 2 m in class f. A length under 0.5 mm, for which the standard
        asks that its deviation be written beside it, gets the smallest range's: a part
        without offset is drawn on a centre line and made no better than a small dimension.

    Raises:
        RequestError: for an unknown class.

    Source: ISO 2768-1:1989, table 1.
    """
    row = _LINEAR_MM[_known(grade)]
    index = bisect_left(_EDGES_MM, round(abs(nominal) * 1e3, 9))
    if index == len(row):
        return None
    found = row[index]
    return None if found is None else found * 1e-3


def stated(nominal: float) -> bool:
    """Whether the standard has a range for a length [m]: not under 0.5 mm."""
    return abs(nominal) * 1e3 >= _SMALLEST_MM - 1e-9


def angle_deviation(shorter_leg: float, grade: str) -> float:
    """Limit deviation of an angle.

    Args:
        shorter_leg: Length of the shorter leg of the angle, >= 0 [m].
        grade: f, m, c or v.

    Returns:
        Half of the tolerance, ± [rad].

    Raises:
        RequestError: for an unknown class.

    Source: ISO 2768-1:1989, table 3.
    """
    row = _MINUTES[_known(grade)]
    index = bisect_left(_LEGS_MM, round(abs(shorter_leg) * 1e3, 9))
    return radians(row[index] / 60.0)


def _known(grade: str) -> str:
    if grade not in CLASSES:
        raise RequestError("tolerance class", grade, f"one of {', '.join(CLASSES)}")
    return grade
