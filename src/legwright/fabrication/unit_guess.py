"""Millimetres taken for metres: does a part's size make sense?"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from legwright.fabrication.mesh_file import UNITS

SMALLEST, LARGEST = 0.1, 4.0
"""A cover is at least and at most so many times as large as what it covers; our own choice."""
LEAST, MOST = 2e-3, 3.0
"""The same for a part of which nothing else is known [m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitGuess:
    """What is odd about the size of a part."""

    taken: str
    """Unit that the file was taken to be in."""
    size: float
    """Its longest edge in that unit [m]."""
    beside: float | None
    """Longest edge of what it covers [m]; None when not known."""
    guess: str | None
    """Unit in which it would make sense; None when there is none."""

    @property
    def sentence(self) -> str:
        """The warning in words."""
        what = f"It is {_length(self.size)} long when its file is read in {self.taken}"
        what += "" if self.beside is None else f", beside {_length(self.beside)} of what it covers"
        if self.guess is None:
            return what + "; no usual unit makes sense of it."
        factor = UNITS[self.guess] / UNITS[self.taken]
        return f"{what}; in {self.guess} it would be {_length(self.size * factor)}."


def unit_guess(size: float, taken: str, beside: float | None) -> UnitGuess | None:
    """Whether a part's size makes sense, and in which unit it would.

    Args:
        size: Its longest edge, read in the unit taken [m].
        taken: That unit.
        beside: Longest edge of what it covers [m]; None when not known.

    Returns:
        None when the size makes sense.
    """
    low, high = (LEAST, MOST) if beside is None else (SMALLEST * beside, LARGEST * beside)
    if low <= size <= high:
        return None
    middle = (low * high) ** 0.5 if beside is None else beside
    sizes = {unit: size * scale / UNITS[taken] for unit, scale in UNITS.items()}
    sensible = {unit: at for unit, at in sizes.items() if low <= at <= high}
    guess = min(sensible, key=lambda unit: abs(log(sizes[unit] / middle)), default=None)
    return UnitGuess(taken=taken, size=size, beside=beside, guess=guess)


def _length(value: float) -> str:
    return f"{value:.3g} m" if value >= 1.0 else f"{value * 1e3:.3g} mm"
