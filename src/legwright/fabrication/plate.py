"""A flat part: an outline, its openings, and what they weigh."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.contour import Moments, Point, Rounded
from legwright.fabrication.openings import Opening
from legwright.robot.tree import Solid, read_only


@dataclass(frozen=True, kw_only=True)
class Plate:
    """One flat part in its own plane, seen from above; axes of the body frame."""

    name: str
    """``upper-plate``"""
    outline: Rounded
    openings: tuple[Opening, ...]
    thickness: float
    """[m]"""
    density: float
    """[kg/m³]"""
    material: str = ""
    height: float = 0.0
    """Of its middle plane in the body frame [m]."""
    count: int = 1
    """How many of it one robot has."""

    @cached_property
    def moments(self) -> Moments:
        """Area that is left, and its moments; openings must lie apart."""
        total = self.outline.contour.moments
        for opening in self.openings:
            total = total.less(opening.contour.moments)
        return total

    @property
    def area(self) -> float:
        """That is left [m²]."""
        return self.moments.area

    @property
    def mass(self) -> float:
        """Of one [kg]."""
        return self.area * self.thickness * self.density

    @property
    def com(self) -> Point:
        """Centre of mass in its plane [m]."""
        return self.moments.centroid

    @property
    def cut_length(self) -> float:
        """Of all outlines together [m]."""
        contours = (self.outline.contour, *(each.contour for each in self.openings))
        return sum(each.length for each in contours)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest x and y: left, bottom, right, top [m]."""
        corners = np.array(self.outline.contour.polygon(1e-6))
        low, high = corners.min(axis=0), corners.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @property
    def solid(self) -> Solid:
        """Mass, centre and inertia in the body frame."""
        moments, per_area = self.moments, self.thickness * self.density
        x, y = self.com
        xx = (moments.xx - moments.area * x * x) * per_area
        yy = (moments.yy - moments.area * y * y) * per_area
        xy = (moments.xy - moments.area * x * y) * per_area
        flat = self.mass * self.thickness**2 / 12.0
        inertia = [[yy + flat, -xy, 0.0], [-xy, xx + flat, 0.0], [0.0, 0.0, xx + yy]]
        return Solid(mass=self.mass, com=read_only([x, y, self.height]), inertia=read_only(inertia))

    def cut(self, kerf: float) -> Plate:
        """The paths of the beam's middle that leave this part.

        Args:
            kerf: Width of the cut [m].

        Returns:
            Outline larger and openings smaller by half a kerf.

        Raises:
            RequestError: where an opening or a corner is too small for the beam.
        """
        for opening in self.openings:
            if opening.smallest <= kerf:
                raise RequestError(
                    "kerf", f"{1e3 * kerf:.3g} mm",
                    f"less than {1e3 * opening.smallest:.3g} mm, the width of '{opening.name}'",
                )  # fmt: skip
        return replace(
            self,
            outline=self.outline.grown(kerf / 2.0),
            openings=tuple(opening.cut(kerf) for opening in self.openings),
        )
