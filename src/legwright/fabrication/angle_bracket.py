"""An angle bracket: two flanges and one bend, its flat pattern, and what it weighs.

The part's own frame: the corner (where the outside faces would meet) is the y axis; the base lies
on z = 0 from there along +x, outside face down; the riser stands up from it. In the flat pattern x
is the developed length and y the same as in the part; the middle of the bend is the origin, the
base lies at positive x. The pattern is seen from the inside of the bend.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import cos, sin

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.bend import allowance, deduction, setback
from legwright.fabrication.block import Block, block
from legwright.fabrication.contour import Moments, Rounded
from legwright.fabrication.folded import Folded
from legwright.fabrication.openings import Opening
from legwright.fabrication.plate import Plate
from legwright.robot.tree import Floats, read_only


@dataclass(frozen=True, kw_only=True)
class AngleBracket(Folded):
    """Base and riser, all measures outside."""

    name: str
    turn: float
    """Of the bend [rad]."""
    base: float
    """From the corner [m]."""
    riser: float
    """From the corner [m]."""
    width: float
    thickness: float
    radius: float
    """Inner radius of the bend [m]."""
    k_factor: float
    density: float
    corner: float = 0.0
    """Radius of the free corners [m]."""
    material: str = ""
    on_base: tuple[Opening, ...] = ()
    """Openings, in the flat pattern's frame."""
    on_riser: tuple[Opening, ...] = ()
    count: int = 1

    def __post_init__(self) -> None:
        """Refuse measures that no folded part can have."""
        for what, length in (("base", self.base), ("riser", self.riser)):
            if length <= self.setback:
                raise RequestError(
                    f"angle bracket {what}", f"{1e3 * length:.3g} mm",
                    f"more than {1e3 * self.setback:.3g} mm, what the bend takes",
                )  # fmt: skip

    @property
    def setback(self) -> float:
        """From the corner to where the bend begins [m]."""
        return setback(self.turn, self.radius, self.thickness)

    @property
    def bend(self) -> float:
        """Developed length of the bend [m]."""
        return allowance(self.turn, self.radius, self.thickness, self.k_factor)

    @property
    def _lost(self) -> float:
        """Half of the bend deduction: outside lengths are so much longer than the pattern [m]."""
        return deduction(self.turn, self.radius, self.thickness, self.k_factor) / 2.0

    @property
    def developed(self) -> float:
        """Length of the flat pattern [m]."""
        return self.base + self.riser - 2.0 * self._lost

    @property
    def bend_lines(self) -> tuple[float, ...]:
        """Where the middle of the bend lies in the flat pattern, x [m]."""
        return (0.0,)

    def flat_x(self, outside: float, *, riser: bool = False) -> float:
        """Where a point of a flange lies in the flat pattern, x [m].

        Args:
            outside: Distance from the corner along the outside face [m].
            riser: Whether it lies on the riser.
        """
        return (self._lost - outside) if riser else (outside - self._lost)

    @property
    def ends(self) -> tuple[float, float]:
        """Where riser and base end in the flat pattern, x [m]."""
        return self.flat_x(self.riser, riser=True), self.flat_x(self.base)

    @cached_property
    def flat(self) -> Plate:
        """The flat pattern as a part to cut."""
        return Plate(
            name=f"{self.name}-flat",
            outline=self._strip(*self.ends, both=True),
            openings=(*self.on_base, *self.on_riser),
            thickness=self.thickness,
            density=self.density,
            material=self.material,
            count=self.count,
        )

    def _strip(self, low: float, high: float, *, both: bool = False) -> Rounded:
        """A rectangle whose far corners are round; both ends where it is the whole pattern."""
        half = self.width / 2.0
        r = min(self.corner, half, min(self.base, self.riser) - self.setback)
        far = r if both or low >= 0.0 else 0.0
        near = r if both or high <= 0.0 else 0.0
        return Rounded(
            corners=((low, -half), (high, -half), (high, half), (low, half)),
            radii=(near, far, far, near),
        )

    @property
    def blocks(self) -> tuple[Block, Block]:
        """Boxes around base and riser, in the part's frame."""
        t = self.thickness
        up = np.array([-cos(self.turn), 0.0, sin(self.turn)])
        inward = np.array([sin(self.turn), 0.0, cos(self.turn)])
        riser = Block(
            centre=read_only(self.riser / 2.0 * up + t / 2.0 * inward),
            axes=read_only(np.stack([up, [0.0, 1.0, 0.0], inward])),
            half=read_only(np.array([self.riser, self.width, t]) / 2.0),
        )
        return block((self.base, self.width, t), (self.base / 2.0, 0.0, t / 2.0)), riser

    # -- what it weighs -----------------------------------------------------------------------

    @cached_property
    def _bodies(self) -> tuple[tuple[float, Floats], ...]:
        """Volume and centre of base, riser and bend, in the part's frame."""
        t, half = self.thickness, self.bend / 2.0
        base = _less(self._strip(half, self.ends[1]), self.on_base)
        riser = _less(self._strip(self.ends[0], -half), self.on_riser)
        up = np.array([-cos(self.turn), 0.0, sin(self.turn)])
        inward = np.array([sin(self.turn), 0.0, cos(self.turn)])
        out = base.x / base.area - half + self.setback
        high = -riser.x / riser.area - half + self.setback
        inner, outer = self.radius, self.radius + t
        sector = self.turn / 2.0
        arm = 2.0 / 3.0 * sin(sector) / sector * (outer**3 - inner**3) / (outer**2 - inner**2)
        volume = sector * (outer**2 - inner**2) * self.width
        return (
            (base.area * t, np.array([out, base.y / base.area, t / 2.0])),
            (
                riser.area * t,
                high * up + t / 2.0 * inward + np.array([0.0, riser.y / riser.area, 0.0]),
            ),
            (volume, np.array([self.setback - arm * sin(sector), 0.0, outer - arm * cos(sector)])),
        )


def _less(outline: Rounded, openings: tuple[Opening, ...]) -> Moments:
    """Moments of a flange without its openings."""
    found = outline.contour.moments
    for opening in openings:
        found = found.less(opening.contour.moments)
    return found
