"""Grids: which values a dimension may take, evenly spaced or preferred numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import degrees, floor, pi, radians

from legwright.errors import RequestError
from legwright.fabrication.preferred import SERIES, around
from legwright.units import to_si

SAME = 1e-7
"""Values nearer than this are one [m or rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The values allowed for one kind of dimension."""

    step: float | None = None
    """Distance of neighbours [m or rad]; None for preferred numbers."""
    series: str | None = None
    """A series of ISO 3, of millimetres or degrees; None for an even grid."""
    angle: bool = False
    """Whether it is a grid of angles."""

    @property
    def words(self) -> str:
        """``5 mm``, ``15°`` or ``R20``."""
        if self.series is not None:
            return self.series
        size = degrees(self.step or 0.0) if self.angle else 1e3 * (self.step or 0.0)
        return f"{size:g}°" if self.angle else f"{size:g} mm"

    def around(self, value: float, count: int, *, positive: bool) -> tuple[float, ...]:
        """Allowed values next to a value.

        Args:
            value: Today's [m or rad].
            count: How many on either side; the value itself, where allowed, comes on top.
            positive: Whether values must stay above 0.

        Returns:
            Ascending, at least one.
        """
        if self.series is not None:
            unit = pi / 180.0 if self.angle else 1e-3
            if abs(value) < SAME:
                return (0.0,)  # preferred numbers come nowhere near nothing
            found = [unit * number for number in around(self.series, abs(value) / unit, count)]
            return tuple(sorted(found if value > 0.0 else [-number for number in found]))
        step = self.step or 1.0
        place = value / step
        nearest = round(place)
        on_grid = abs(value - nearest * step) < SAME
        first = nearest - count if on_grid else floor(place) - count + 1
        last = nearest + count if on_grid else floor(place) + count
        places = [place for place in range(first, last + 1) if place > 0 or not positive]
        return tuple(float(f"{place * step:.12g}") for place in places or [1])


def length_grid(text: str, what: str = "grid") -> Grid:
    """A grid of lengths.

    Args:
        text: ``5 mm``, ``5mm`` or a series like ``R20``.
        what: Name for the error.

    Raises:
        RequestError: where it is none.
    """
    if (series := _series(text)) is not None:
        return Grid(series=series)
    step = _quantity(text, "5 mm", what)
    if not 1e-5 <= step <= 0.5:
        raise RequestError(what, text, 'a step from 0.01 mm to 500 mm, like "5 mm", or R20')
    return Grid(step=step)


def angle_grid(text: str, what: str = "angle") -> Grid:
    """A grid of angles.

    Args:
        text: ``15 deg`` or a series like ``R10``.
        what: Name for the error.

    Raises:
        RequestError: where it is none, or an even grid that does not hold the right angle.
    """
    if (series := _series(text)) is not None:
        return Grid(series=series, angle=True)
    step = _quantity(text, "15 deg", what)
    if not radians(0.01) <= step <= radians(90.0) + SAME:
        raise RequestError(what, text, 'a step from 0.01 deg to 90 deg, like "15 deg"')
    parts = 0.5 * pi / step
    if abs(parts - round(parts)) > 1e-6:
        low, high = 90.0 / (floor(parts) + 1), 90.0 / max(floor(parts), 1)
        raise RequestError(
            what,
            text,
            f"a step that divides 90 deg, or legs that point straight to the side would not lie "
            f"on the grid: {low:.4g} deg or {high:.4g} deg is nearest",
        )
    return Grid(step=step, angle=True)


def _series(text: str) -> str | None:
    word = text.strip().upper()
    if not re.fullmatch(r"R\d+", word):
        return None
    if word not in SERIES:
        raise RequestError("grid", text, "a series of ISO 3: " + ", ".join(SERIES))
    return word


def _quantity(text: str, example: str, what: str) -> float:
    try:
        return to_si(text, example)
    except ValueError as error:
        raise RequestError(what, text, f"a grid; it {error}, or R20") from None
