"""Drawing of the folded bracket: flat pattern with bend lines, and the folded part."""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees

import numpy as np

from legwright.fabrication.bracket import RIGHT_ANGLE, Bracket
from legwright.fabrication.refold import refolded
from legwright.robot.sheet_making import Making
from legwright.views import tokens
from legwright.views.dimensioning import across, along, leader, millimetres
from legwright.views.flat_part import SCALES, Flat, facts_table, flat_part, laid, openings_table
from legwright.views.ink import Ink, Point
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.plate_drawing import CAUTION, capital
from legwright.views.symbols import title
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
PATTERN = (16.0, 16.0, 168.0, 66.0)
FOLDED = (20.0, 96.0, 88.0, HEIGHT - 16.0)
FRONT = (104.0, 96.0, 168.0, HEIGHT - 16.0)
TABLE = 180.0


def bracket_sheet(bracket: Bracket, making: Making) -> WideSheet:
    """One sheet with pattern, folded views, bends and openings.

    Args:
        bracket: The bracket.
        making: How it is made.
    """
    words = bracket.name.replace("-", " ")
    ink = Ink(WIDTH, HEIGHT, about=f"Drawing of the {words}")
    flat = laid(bracket.flat, PATTERN)
    title(
        ink,
        words.capitalize(),
        f"{bracket.count} of it, {plain(bracket.mass * 1e3, 1)}\u202fg each",
    )
    ink.text(4.0, 10.6, f"flat pattern {flat.words}, inside of the bends up", colour="ink2",
             face=Face.LETTER)  # fmt: skip
    _bend_lines(ink, bracket, flat)
    flat_part(ink, flat, bracket.flat)
    _pattern_dimensions(ink, bracket, flat)
    scale = _scale(bracket)
    _side(ink, bracket, scale)
    _front(ink, bracket, scale)
    ink.line(TABLE - 5.0, 0.0, TABLE - 5.0, HEIGHT)
    room = WIDTH - TABLE - 4.0
    below = openings_table(ink, bracket.flat, TABLE, 8.0, room)
    _bend_table(ink, bracket, TABLE, below + 5.0, room)
    return WideSheet(
        name=bracket.name, subtitle=words, drawing=ink.finish(), notes=_notes(bracket, making)
    )


def _bend_lines(ink: Ink, bracket: Bracket, flat: Flat) -> None:
    half = bracket.width / 2.0
    for number, x in enumerate(bracket.bend_lines, start=1):
        (px, low), (_, high) = flat.at((x, -half)), flat.at((x, half))
        ink.line(px, low + 2.0, px, high - 2.0, dash="centre")
        ink.text(
            px + 0.9, (low + high) / 2.0, f"bend {number}", face=Face.LETTER, anchor="middle",
            upright=True, knock=True,
        )  # fmt: skip
        for side in (-1.0, 1.0):
            tangent, _ = flat.at((x + side * bracket.bend / 2.0, 0.0))
            ink.line(tangent, low, tangent, high, weight=tokens.FINE, dash="hidden")


def _pattern_dimensions(ink: Ink, bracket: Bracket, flat: Flat) -> None:
    left, bottom, right, top = bracket.flat.box
    (x0, y0), (x1, y1) = flat.at((left, bottom)), flat.at((right, top))
    first, second = (flat.at((x, bottom))[0] for x in bracket.bend_lines)
    low = max(y0, flat.at((0.0, -bracket.web_width / 2.0))[1])
    across(ink, (x0, y0), (first, y0), low + 6.0, millimetres(bracket.bend_lines[0] - left))
    across(
        ink, (first, y0), (second, y0), low + 6.0,
        millimetres(bracket.bend_lines[1] - bracket.bend_lines[0]),
    )  # fmt: skip
    across(ink, (second, y0), (x1, y0), low + 6.0, millimetres(right - bracket.bend_lines[1]))
    across(ink, (x0, low + 6.0), (x1, low + 6.0), low + 12.5, millimetres(right - left))
    along(ink, (x0, y0), (x0, y1), x0 - 6.0, millimetres(top - bottom))


def _scale(bracket: Bracket) -> float:
    wide = max((bracket.reach + bracket.end) * 1e3, bracket.web_width * 1e3)
    high = bracket.height * 1e3
    room = (FOLDED[2] - FOLDED[0], FOLDED[3] - FOLDED[1])
    return max(s for s in SCALES if s * wide <= room[0] and s * high <= room[1])


def _side(ink: Ink, bracket: Bracket, scale: float) -> None:
    """Seen along the bends: the sheet's edge; x to the right, z up."""
    cx = (FOLDED[0] + FOLDED[2]) / 2.0 - scale * 1e3 * (bracket.reach - bracket.end) / 2.0
    cy = (FOLDED[1] + FOLDED[3]) / 2.0

    def at(x: float, z: float) -> Point:
        return cx + scale * 1e3 * x, cy - scale * 1e3 * z

    along_ = np.linspace(-bracket.developed / 2, bracket.developed / 2, 241)
    line = np.column_stack([along_, np.zeros_like(along_)])
    outer, inner = refolded(bracket, line), refolded(bracket, line, bracket.thickness)
    edge = [*outer, *inner[::-1]]
    ink.path([at(float(p[0]), float(p[2])) for p in edge], close=True, weight=tokens.THICK)
    half = bracket.height / 2.0
    ink.line(*at(0.0, half + 6e-3 / scale), *at(0.0, -half - 6e-3 / scale), dash="centre",
             weight=tokens.FINE)  # fmt: skip
    ink.text(FOLDED[0] - 16.0, FOLDED[1] - 10.0, f"folded {_ratio(scale)}, seen along the bends",
             face=Face.LETTER, colour="ink2")  # fmt: skip
    right, left = at(bracket.reach, 0.0)[0], at(-bracket.end, 0.0)[0]
    low, top = at(0.0, -half)[1], at(0.0, half)[1]
    along(ink, (right, low), (right, top), right + 7.0, millimetres(bracket.height))
    across(ink, (at(0.0, 0.0)[0], low), (right, low), low + 7.5, millimetres(bracket.reach))
    across(ink, (left, low + 7.5), (right, low + 7.5), low + 14.0, millimetres(bracket.flange))
    inside = at(
        bracket.reach - bracket.thickness - 0.3 * bracket.radius,
        half - bracket.thickness - 0.3 * bracket.radius,
    )
    leader(ink, inside, (inside[0] - 4.0, inside[1] + 6.0), f"R {millimetres(bracket.radius)}")
    ink.text(at(0.0, 0.0)[0] - 1.0, cy, "hip axis", face=Face.LETTER, colour="ink2",
             upright=True, anchor="middle", knock=True)  # fmt: skip


def _front(ink: Ink, bracket: Bracket, scale: float) -> None:
    """The web from outside: y to the left, z up."""
    cx, cy = (FRONT[0] + FRONT[2]) / 2.0, (FOLDED[1] + FOLDED[3]) / 2.0

    def at(y: float, z: float) -> Point:
        return cx - scale * 1e3 * y, cy - scale * 1e3 * z

    w, wide = bracket.width / 2.0, bracket.web_width / 2.0
    inner, half = bracket.half_web, bracket.height / 2.0
    flange: Sequence[tuple[float, float]] = ((-w, half), (w, half))
    ring: list[tuple[float, float]] = []
    for sign in (1.0, -1.0):
        ring += [(sign * wide, -sign * inner), (sign * wide, sign * inner)]
        if wide > w:
            ring += [(sign * w, sign * inner)]
        ring += [(sign * w, sign * half), (-sign * w, sign * half)]
        if wide > w:
            ring += [(-sign * w, sign * inner)]
    ink.path([at(*p) for p in ring], close=True, weight=tokens.THICK)
    for side in (1.0, -1.0):
        a, b = at(-flange[1][0], side * inner), at(flange[1][0], side * inner)
        ink.line(*a, *b, weight=tokens.FINE)
        if bracket.relief > 0.0 and wide > w:
            for edge in (-1.0, 1.0):
                deep = inner - bracket.thickness
                ink.path(
                    [at(edge * w, side * inner), at(edge * w, side * deep),
                     at(edge * (w + bracket.relief), side * deep),
                     at(edge * (w + bracket.relief), side * inner)],
                    weight=tokens.PART_EDGE,
                )  # fmt: skip
    for opening in bracket.web:
        x, y = at(opening.centre[1], opening.centre[0])
        radius = 500.0 * scale * (opening.diameter or 0.0)
        ink.circle(x, y, radius, weight=tokens.PART_EDGE)
        ink.line(x - radius - 0.9, y, x + radius + 0.9, y, weight=tokens.FINE)
        ink.line(x, y - radius - 0.9, x, y + radius + 0.9, weight=tokens.FINE)
    ink.text(FRONT[0] - 4.0, FOLDED[1] - 10.0, "web from outside", face=Face.LETTER, colour="ink2")
    low = at(0.0, -half)[1]
    (x0, _), (x1, _) = at(wide, 0.0), at(-wide, 0.0)
    (f0, _), (f1, _) = at(w, 0.0), at(-w, 0.0)
    across(ink, (f0, low), (f1, low), low + 7.5, millimetres(bracket.width))
    if wide > w:
        tip = at(0.0, -inner)[1]
        across(ink, (x0, tip), (x1, tip), low + 14.0, millimetres(bracket.web_width))


def _ratio(scale: float) -> str:
    return f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:.4g}"


def _bend_table(ink: Ink, bracket: Bracket, left: float, top: float, room: float) -> None:
    rows = (
        ("bends, both upward", f"{degrees(RIGHT_ANGLE):.0f}°"),
        ("inner radius", millimetres(bracket.radius)),
        ("neutral fibre, K", f"{bracket.k_factor:g}"),
        ("allowance of a bend", plain(bracket.bend * 1e3, 3)),
        ("flat length", plain(bracket.developed * 1e3, 3)),
        ("order", "bend 1, then bend 2"),
    )
    facts_table(ink, "Bends", rows, left, top, room)


def _notes(bracket: Bracket, making: Making) -> tuple[str, ...]:
    grade = making.tolerance.general
    return (
        f"{capital(bracket.material) or 'Material not stated'}, {bracket.thickness * 1e3:g} mm "
        "thick. Bend a strip first, set K by it.",
        (f"General tolerances ISO 2768-1, class {grade}" if grade else "Tolerances not stated")
        + ". Horn above, pin below.",
        CAUTION + " The press pinches.",
    )
