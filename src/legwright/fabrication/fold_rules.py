"""Can a bracket be folded: what the press, the punch and the material ask for."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.bracket import Bracket
from legwright.fabrication.openings import Opening

LEAST_FLANGE = 0.7
"""Shortest outside flange over the die's opening, so that it rests on both shoulders until the
end: common practice, no published source."""
DIE = 8.0
"""Opening of a die over the thickness: common practice, no published source."""
HOLE_TO_BEND = 2.0
"""Least material between opening and bend over the thickness: common practice, no published
source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldLimit:
    """One rule, measured."""

    name: str
    value: float
    """[m]"""
    least: float
    """The value must not be smaller [m]."""
    why: str
    cure: str


def fold_limits(
    bracket: Bracket, *, least_radius: float, punch: float, die: float | None
) -> tuple[FoldLimit, ...]:
    """Measure a bracket against the rules of folding.

    Args:
        bracket: The bracket.
        least_radius: Smallest inner radius over the thickness.
        punch: Thickness of the punch [m].
        die: Opening of the die; eight thicknesses when None [m].

    Returns:
        Radius, flange, passage beside the punch, holes, relief.
    """
    t = bracket.thickness
    opening = DIE * t if die is None else die
    found = [
        FoldLimit(
            name="bend radius", value=bracket.radius, least=least_radius * t,
            why=f"Inner radius at {t * 1e3:.3g} mm of {bracket.material or 'sheet'}.",
            cure="A larger making.bracket.radius, or a softer temper.",
        ),
        FoldLimit(
            name="flange on the die", value=bracket.flange, least=LEAST_FLANGE * opening,
            why=f"The die opens {opening * 1e3:.3g} mm; a shorter flange slips into it.",
            cure="A longer making.bracket.flange, or a narrower die.",
        ),
        _passage(bracket, punch),
    ]  # fmt: skip
    if bracket.web_width > bracket.width:
        found.append(
            FoldLimit(
                name="relief", value=bracket.relief, least=t,
                why="Width of the notches where the flange is narrower than the web; without, the "
                "bend tears into the web.",
                cure="A wider making.bracket.relief, or flange and web of one width.",
            )
        )  # fmt: skip
    nearest = _nearest(bracket)
    if nearest is not None:
        distance, name = nearest
        found.append(
            FoldLimit(
                name="hole to bend", value=distance, least=HOLE_TO_BEND * t,
                why=f"{name} lies nearest to a bend; nearer holes are drawn oval.",
                cure="A longer making.bracket.flange or a smaller opening.",
            )
        )  # fmt: skip
    return tuple(found)


def angle_limits(
    bracket: AngleBracket, *, least_radius: float, die: float | None
) -> tuple[FoldLimit, ...]:
    """Measure an angle bracket against the rules of folding; one bend passes any punch.

    Args:
        bracket: The bracket.
        least_radius: Smallest inner radius over the thickness.
        die: Opening of the die; eight thicknesses when None [m].

    Returns:
        Radius, the shorter flange on the die, holes.
    """
    t, name = bracket.thickness, bracket.name.removeprefix("angle-")
    opening = DIE * t if die is None else die
    short = "base" if bracket.base <= bracket.riser else "riser"
    found = [
        FoldLimit(
            name="bend radius", value=bracket.radius, least=least_radius * t,
            why=f"Inner radius at {t * 1e3:.3g} mm of {bracket.material or 'sheet'}.",
            cure=f"A larger making.angle.{name}.radius, or a softer temper.",
        ),
        FoldLimit(
            name="flange on the die", value=min(bracket.base, bracket.riser),
            least=LEAST_FLANGE * opening,
            why=f"The die opens {opening * 1e3:.3g} mm; a shorter {short} slips into it.",
            cure=f"A longer making.angle.{name}.{short}, or a narrower die.",
        ),
    ]  # fmt: skip
    gaps = []
    for each in (*bracket.on_base, *bracket.on_riser):
        low, high = _span(each)
        gaps.append((max(low, -high) - bracket.bend / 2.0, each.name))
    if gaps:
        distance, nearest = min(gaps)
        found.append(
            FoldLimit(
                name="hole to bend", value=distance, least=HOLE_TO_BEND * t,
                why=f"{nearest} lies nearest to the bend; nearer holes are drawn oval.",
                cure="Openings farther from the corner, or smaller ones.",
            )
        )  # fmt: skip
    return tuple(found)


def _passage(bracket: Bracket, punch: float) -> FoldLimit:
    """The first flange beside the punch while the second is bent.

    At the end of the second bend the web rises at 45° from under the punch's edge. Seen along
    the bend, the first flange begins at the height's inside on it and stands square to it, so
    that its tip is (h − f)/√2 from the punch's middle plane: h inside height, f inside flange.
    """
    t = bracket.thickness
    free = ((bracket.height - 2.0 * t) - (bracket.flange - t)) / sqrt(2.0)
    return FoldLimit(
        name="passage beside the punch",
        value=free,
        least=punch / 2.0,
        why="Distance of the first flange's tip from the punch's middle while the second is "
        "bent, from the geometry of a straight punch.",
        cure="Shorter flanges or a larger making.bracket.height; a swan-necked punch has more "
        "room (state its making.bracket.punch).",
    )


def _nearest(bracket: Bracket) -> tuple[float, str] | None:
    """The least distance between an opening and a bend's tangent."""
    inner, outer = bracket.half_web, bracket.half_web + bracket.bend
    gaps = []
    for opening in (*bracket.web, *bracket.upper, *bracket.lower):
        low, high = _span(opening)
        if low <= 0.0 <= high:
            gaps.append((inner - max(abs(low), abs(high)), opening.name))
        elif min(abs(low), abs(high)) >= outer:
            gaps.append((min(abs(low), abs(high)) - outer, opening.name))
        else:
            gaps.append((inner - max(abs(low), abs(high)), opening.name))
    return min(gaps) if gaps else None


def _span(opening: Opening) -> tuple[float, float]:
    xs = [x for x, _ in opening.contour.polygon(1e-6)]
    return min(xs), max(xs)
