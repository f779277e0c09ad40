"""A folded bracket: a web with two flanges, its flat pattern, and what it weighs.

The part's own frame: the flanges' holes lie on the z axis (the hip axis), the web stands
square to x at x = reach, outside face outward; y runs along the bends. In the flat pattern x
is the developed length, y the same as in the part; the middle of the web is the origin. The
pattern is seen from the inside of the bends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import pi, sin

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.bend import allowance, deduction
from legwright.fabrication.contour import Contour, Moments, Point, Rounded
from legwright.fabrication.folded import Folded
from legwright.fabrication.openings import Opening
from legwright.fabrication.plate import Plate
from legwright.robot.tree import Floats

RIGHT_ANGLE = pi / 2.0
WEB_CORNER = 0.001
"""Radius of the web's corners [m]."""


@dataclass(frozen=True, kw_only=True)
class Bracket(Folded):
    """A web and two flanges at right angles to it, all measures outside."""

    name: str
    height: float
    """Over both flanges [m]."""
    reach: float
    """From the hip axis to the web's outside [m]."""
    end: float
    """From the hip axis to the flanges' round end [m]."""
    width: float
    """Of the flanges [m]."""
    web_width: float
    """[m]"""
    thickness: float
    radius: float
    """Inner radius of the bends [m]."""
    k_factor: float
    relief: float
    """Width of the notches beside the bends; 0 where web and flanges are equally wide [m]."""
    density: float
    material: str = ""
    web: tuple[Opening, ...] = ()
    """Openings, in the flat pattern's frame."""
    upper: tuple[Opening, ...] = ()
    """Openings of the flange at positive x of the flat pattern."""
    lower: tuple[Opening, ...] = ()
    count: int = 1

    def __post_init__(self) -> None:
        """Refuse measures that no folded part can have."""
        edge = self.radius + self.thickness
        if self.height <= 2.0 * edge:
            raise RequestError(
                "bracket height", f"{1e3 * self.height:.3g} mm",
                f"more than {2e3 * edge:.3g} mm: twice bend radius and thickness",
            )  # fmt: skip
        if self.reach + self.end <= edge:
            raise RequestError(
                "bracket flange", f"{1e3 * (self.reach + self.end):.3g} mm",
                f"more than {1e3 * edge:.3g} mm: bend radius and thickness",
            )  # fmt: skip
        if self.web_width < self.width:
            raise RequestError(
                "bracket web_width", f"{1e3 * self.web_width:.3g} mm",
                f"at least the flanges' width, {1e3 * self.width:.3g} mm",
            )  # fmt: skip

    @property
    def bend(self) -> float:
        """Developed length of one bend [m]."""
        return allowance(RIGHT_ANGLE, self.radius, self.thickness, self.k_factor)

    @property
    def flange(self) -> float:
        """Outside length of a flange [m]."""
        return self.reach + self.end

    @property
    def half_web(self) -> float:
        """From the middle of the web to the tangent of a bend [m]."""
        return self.height / 2.0 - self.radius - self.thickness

    @property
    def hip(self) -> float:
        """From the middle of the web to the hip axis in the flat pattern [m].

        Outside lengths less the bend deduction.
        """
        lost = deduction(RIGHT_ANGLE, self.radius, self.thickness, self.k_factor)
        return self.height / 2.0 + self.reach - lost

    @property
    def developed(self) -> float:
        """Length of the flat pattern [m]."""
        return 2.0 * (self.hip + self.end)

    @property
    def bend_lines(self) -> tuple[float, ...]:
        """Where the middles of the bends lie in the flat pattern, x [m]."""
        middle = self.half_web + self.bend / 2.0
        return (-middle, middle)

    @cached_property
    def flat(self) -> Plate:
        """The flat pattern as a part to cut."""
        return Plate(
            name=f"{self.name}-flat",
            outline=self._outline(),
            openings=(*self.web, *self.upper, *self.lower),
            thickness=self.thickness,
            density=self.density,
            material=self.material,
            count=self.count,
        )

    def _outline(self) -> Rounded:
        w, wide, far = self.width / 2.0, self.web_width / 2.0, self.developed / 2.0
        start, notch, deep = self.half_web, self.relief, self.half_web - self.thickness
        corners: list[Point] = []
        radii: list[float] = []

        def add(x: float, y: float, radius: float = 0.0) -> None:
            corners.append((x, y))
            radii.append(radius)

        for side in (1.0, -1.0):  # right half from below to above, then the left one downward
            if wide > w:
                add(side * start, -side * wide, WEB_CORNER)
                if notch > 0.0 and w + notch < wide:
                    add(side * start, -side * (w + notch))
                    add(side * deep, -side * (w + notch))
                    add(side * deep, -side * w)
                else:
                    add(side * start, -side * w)
            add(side * far, -side * w, min(w, self.end))
            add(side * far, side * w, min(w, self.end))
            if wide > w:
                if notch > 0.0 and w + notch < wide:
                    add(side * deep, side * w)
                    add(side * deep, side * (w + notch))
                    add(side * start, side * (w + notch))
                else:
                    add(side * start, side * w)
                add(side * start, side * wide, WEB_CORNER)
        return Rounded(corners=tuple(corners), radii=tuple(radii))

    # -- what it weighs -----------------------------------------------------------------------

    @cached_property
    def _bodies(self) -> tuple[tuple[float, Floats], ...]:
        """Volume and centre of web, flanges and bends, in the part's frame."""
        t, r = self.thickness, self.radius
        total = self.flat.moments
        bends = _box_moments(self.half_web, self.half_web + self.bend, self.width)
        flanges = [self._flange(side) for side in (1.0, -1.0)]
        web = total
        for side, one in zip((1.0, -1.0), flanges, strict=True):
            web = web.less(one).less(_mirrored(bends, side))
        found = [
            (web.area * t, np.array([self.reach - t / 2.0, web.y / web.area, web.x / web.area]))
        ]
        ro = r + t
        sector = RIGHT_ANGLE / 2.0
        arm = 2.0 / 3.0 * sin(sector) / sector * (ro**3 - r**3) / (ro**2 - r**2)
        volume = RIGHT_ANGLE / 2.0 * (ro**2 - r**2) * self.width
        out = arm * np.sqrt(0.5)
        for side, one in zip((1.0, -1.0), flanges, strict=True):
            x = self.hip - side * one.x / one.area
            found.append(
                (one.area * t, np.array([x, one.y / one.area, side * (self.height - t) / 2.0]))
            )
            place = [self.reach - ro + out, 0.0, side * (self.half_web + out)]
            found.append((volume, np.array(place)))
        return tuple(found)

    def _flange(self, side: float) -> Moments:
        w, far = self.width / 2.0, self.developed / 2.0
        start, r = self.half_web + self.bend, min(w, self.end)
        corners = ((start, -w), (far, -w), (far, w), (start, w))
        shape = Rounded(corners=corners, radii=(0.0, r, r, 0.0)).contour.moments
        shape = _mirrored(shape, side)
        for opening in self.upper if side > 0 else self.lower:
            shape = shape.less(opening.contour.moments)
        return shape


def _box_moments(low: float, high: float, width: float) -> Moments:
    corners = ((low, -width / 2), (high, -width / 2), (high, width / 2), (low, width / 2))
    return Contour(points=corners, bulges=(0.0,) * 4).moments


def _mirrored(moments: Moments, side: float) -> Moments:
    """The moments of the area on the other side of the y axis, where side is negative."""
    return moments if side > 0.0 else _flipped(moments)


def _flipped(moments: Moments) -> Moments:
    """Moments of an area mirrored at the y axis."""
    return moments._replace(x=-moments.x, xy=-moments.xy)
