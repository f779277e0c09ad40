"""Openings of a flat part: round holes, and everything else with a rounded outline."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property

from legwright.fabrication.contour import Contour, Point, Rounded, circle


class Purpose(Enum):
    """What an opening is for; the value is the layer of drawing exchange files."""

    SCREW = "holes"
    FIT = "fits"
    SERVO = "servo"
    PASSAGE = "passages"
    WINDOW = "windows"
    RELIEF = "reliefs"


@dataclass(frozen=True, kw_only=True)
class Opening:
    """One opening."""

    name: str
    """``servo left-front``"""
    purpose: Purpose
    centre: Point
    """[m]"""
    diameter: float | None = None
    """Of a round one [m]."""
    outline: Rounded | None = None
    """Of any other."""
    upper: float = 0.0
    """Upper deviation of the diameter [m]."""
    lower: float = 0.0
    """Lower deviation [m]."""
    fit: str = ""
    """``H7``, ``H13``"""
    takes: str = ""
    """What goes in: ``M2.5``, ``bearing``."""

    @cached_property
    def contour(self) -> Contour:
        """Its outline as drawn."""
        if self.outline is not None:
            return self.outline.contour
        return circle(self.centre, self.diameter or 0.0)

    @cached_property
    def smallest(self) -> float:
        """Its smallest width [m]."""
        return self.contour.narrowest if self.diameter is None else self.diameter

    def cut(self, kerf: float) -> Opening:
        """The path of the beam's middle that leaves this opening: smaller by half a kerf.

        Args:
            kerf: Width of the cut [m].
        """
        if self.outline is not None:
            return replace(self, outline=self.outline.grown(-kerf / 2.0))
        return replace(self, diameter=(self.diameter or 0.0) - kerf)
