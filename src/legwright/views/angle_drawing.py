"""Drawing of an angle bracket: flat pattern with its bend line, the folded part, its places."""

from __future__ import annotations

from math import cos, degrees, sin

import numpy as np

from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.refold import refolded_angle
from legwright.robot.sheet_making import AngleKeys, Making
from legwright.views import tokens
from legwright.views.dimensioning import across, aligned, along, leader, millimetres
from legwright.views.flat_part import SCALES, Flat, facts_table, flat_part, laid, openings_table
from legwright.views.ink import Ink, Point
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.plate_drawing import CAUTION, capital
from legwright.views.symbols import title
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
PATTERN = (16.0, 16.0, 168.0, 66.0)
FOLDED = (24.0, 98.0, 92.0, HEIGHT - 18.0)
PLACES = (108.0, 90.0)
TABLE = 180.0


def angle_sheet(bracket: AngleBracket, keys: AngleKeys, making: Making) -> WideSheet:
    """One sheet with pattern, folded part, places, bend and openings.

    Args:
        bracket: The bracket.
        keys: What the sheet says of it.
        making: How it is made.
    """
    words = bracket.name.replace("-", " ").replace("_", " ")
    ink = Ink(WIDTH, HEIGHT, about=f"Drawing of the bracket {words}")
    flat = laid(bracket.flat, PATTERN)
    title(
        ink,
        words.capitalize(),
        f"{bracket.count} of it, {plain(bracket.mass * 1e3, 1)}\u202fg each",
    )
    ink.text(4.0, 10.6, f"flat pattern {flat.words}, inside of the bend up", colour="ink2",
             face=Face.LETTER)  # fmt: skip
    _bend_line(ink, bracket, flat)
    flat_part(ink, flat, bracket.flat)
    _pattern_dimensions(ink, bracket, flat)
    _side(ink, bracket)
    _places(ink, keys)
    ink.line(TABLE - 5.0, 0.0, TABLE - 5.0, HEIGHT)
    room = WIDTH - TABLE - 4.0
    below = openings_table(ink, bracket.flat, TABLE, 8.0, room)
    _bend_table(ink, bracket, TABLE, below + 5.0, room)
    return WideSheet(
        name=bracket.name, subtitle=words, drawing=ink.finish(), notes=_notes(bracket, making)
    )


def _bend_line(ink: Ink, bracket: AngleBracket, flat: Flat) -> None:
    half = bracket.width / 2.0
    (x, low), (_, high) = flat.at((0.0, -half)), flat.at((0.0, half))
    ink.line(x, low + 2.0, x, high - 2.0, dash="centre")
    ink.text(x + 0.9, (low + high) / 2.0, "bend", face=Face.LETTER, anchor="middle", upright=True,
             knock=True)  # fmt: skip
    for side in (-1.0, 1.0):
        tangent, _ = flat.at((side * bracket.bend / 2.0, 0.0))
        ink.line(tangent, low, tangent, high, weight=tokens.FINE, dash="hidden")


def _pattern_dimensions(ink: Ink, bracket: AngleBracket, flat: Flat) -> None:
    left, bottom, right, top = bracket.flat.box
    (x0, y0), (x1, y1) = flat.at((left, bottom)), flat.at((right, top))
    middle = flat.at((0.0, bottom))[0]
    across(ink, (x0, y0), (middle, y0), y0 + 6.0, millimetres(-left))
    across(ink, (middle, y0), (x1, y0), y0 + 6.0, millimetres(right))
    across(ink, (x0, y0 + 6.0), (x1, y0 + 6.0), y0 + 12.5, millimetres(right - left))
    along(ink, (x0, y0), (x0, y1), x0 - 6.0, millimetres(top - bottom))
    y = y1 - 1.6
    ink.text((x0 + middle) / 2.0, y, "riser", face=Face.LETTER, colour="ink2", anchor="middle")
    ink.text((middle + x1) / 2.0, y, "base", face=Face.LETTER, colour="ink2", anchor="middle")


def _side(ink: Ink, bracket: AngleBracket) -> None:
    """Seen along the bend: the sheet's edge; x to the right, z up."""
    low, high = bracket.ends
    x = np.linspace(low, high, 241)
    line = np.column_stack([x, np.zeros_like(x)])
    outer, inner = refolded_angle(bracket, line), refolded_angle(bracket, line, bracket.thickness)
    edge = np.array([*outer, *inner[::-1]])[:, [0, 2]]
    size = 1e3 * (edge.max(axis=0) - edge.min(axis=0))
    room = (FOLDED[2] - FOLDED[0], FOLDED[3] - FOLDED[1])
    scale = max(s for s in SCALES if s * size[0] <= room[0] and s * size[1] <= room[1])
    middle = (edge.max(axis=0) + edge.min(axis=0)) / 2.0
    cx, cy = (FOLDED[0] + FOLDED[2]) / 2.0, (FOLDED[1] + FOLDED[3]) / 2.0

    def at(x: float, z: float) -> Point:
        return cx + scale * 1e3 * (x - float(middle[0])), cy - scale * 1e3 * (z - float(middle[1]))

    ink.path([at(float(p[0]), float(p[1])) for p in edge], close=True, weight=tokens.THICK)
    ratio = f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:.4g}"
    ink.text(FOLDED[0] - 20.0, FOLDED[1] - 10.0, f"folded {ratio}, seen along the bend",
             face=Face.LETTER, colour="ink2")  # fmt: skip
    corner, tip = at(0.0, 0.0), at(bracket.base, 0.0)
    up = at(-cos(bracket.turn) * bracket.riser, sin(bracket.turn) * bracket.riser)
    across(ink, corner, tip, corner[1] + 7.5, millimetres(bracket.base))
    if abs(up[0] - corner[0]) < 0.05:
        along(ink, corner, up, corner[0] - 7.0, millimetres(bracket.riser))
    else:
        aligned(ink, corner, up, -7.0, millimetres(bracket.riser))
    arm = bracket.radius + bracket.thickness
    half = bracket.turn / 2.0
    inside = at(bracket.setback - bracket.radius * sin(half), arm - bracket.radius * cos(half))
    leader(ink, inside, (inside[0] + 9.0, inside[1] - 6.0), f"R {millimetres(bracket.radius)}")
    ink.text(tip[0] + 3.0, tip[1], "base, on the plate", face=Face.LETTER, colour="ink2")


def _places(ink: Ink, keys: AngleKeys) -> None:
    """Where they stand: the corner's middle on the plate, and the way the base points."""
    x, y = PLACES
    right = TABLE - 9.0
    edges = (x + 22.0, x + 40.0, right)
    word = "on" if keys.side == "above" else "under"
    ink.text(x, y, f"Places {word} the {keys.on} plate", face=Face.LETTER_STRONG)
    y += 4.4
    for words, edge in zip(("x", "y", "base points"), edges, strict=True):
        ink.text(edge, y, words, face=Face.LETTER, colour="ink2", anchor="end")
    ink.line(x, y + 1.3, right, y + 1.3)
    room = HEIGHT - 4.0 - y
    step = min(4.0, room / max(len(keys.places), 1))
    for number, (px, py, way) in enumerate(keys.places, start=1):
        at = y + 0.8 + step * number
        ink.text(x, at, str(number), face=Face.LETTER)
        for words, edge in zip((millimetres(px), millimetres(py), f"{degrees(way):.4g}°"), edges,
                               strict=True):  # fmt: skip
            ink.text(edge, at, words.replace("-", "−"), anchor="end")


def _bend_table(ink: Ink, bracket: AngleBracket, left: float, top: float, room: float) -> None:
    rows = (
        ("bend, upward, turned by", f"{degrees(bracket.turn):.4g}°"),
        ("inner radius", millimetres(bracket.radius)),
        ("neutral fibre, K", f"{bracket.k_factor:g}"),
        ("allowance of the bend", plain(bracket.bend * 1e3, 3)),
        ("flat length", plain(bracket.developed * 1e3, 3)),
    )
    facts_table(ink, "Bend", rows, left, top, room)


def _notes(bracket: AngleBracket, making: Making) -> tuple[str, ...]:
    grade = making.tolerance.general
    return (
        f"{capital(bracket.material) or 'Material not stated'}, {bracket.thickness * 1e3:g} mm "
        "thick. Bend a strip first, set K by it.",
        f"General tolerances ISO 2768-1, class {grade}." if grade else "Tolerances not stated.",
        CAUTION + " The press pinches.",
    )
