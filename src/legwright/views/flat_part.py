"""A flat part on paper: outline, openings, centre lines, their labels and their table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, pi, sin
from typing import TYPE_CHECKING

from legwright.fabrication.contour import Contour
from legwright.fabrication.drilling import Row, drilling_table
from legwright.fabrication.openings import Opening
from legwright.fabrication.plate import Plate
from legwright.views import tokens
from legwright.views.dimensioning import millimetres
from legwright.views.ink import Ink, Point, box_of
from legwright.views.lettering import Face, width
from legwright.views.numbers import plain

if TYPE_CHECKING:
    from shapely.strtree import STRtree

SCALES = (5.0, 2.0, 1.0, 1 / 1.5, 1 / 2, 1 / 2.5, 1 / 3, 1 / 4, 1 / 5, 1 / 10, 1 / 20)
CHORD = 4e-5
"""Distance of drawn corners from arcs [m]."""
ROW = 3.3
"""Distance of the table's lines [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flat:
    """Where the part's origin lies on paper, and at what scale; x right, y up."""

    x: float
    y: float
    scale: float
    """Paper over part."""

    def at(self, point: Point) -> Point:
        """A point of the part [m] on paper [mm]."""
        return self.x + 1e3 * self.scale * point[0], self.y - 1e3 * self.scale * point[1]

    @property
    def words(self) -> str:
        """The scale: ``1:2``."""
        if self.scale >= 1.0:
            return f"{self.scale:g}:1"
        return f"1:{1.0 / self.scale:.4g}"


def laid(plate: Plate, box: tuple[float, float, float, float]) -> Flat:
    """The largest usual scale at which a part fits a box, centred.

    Args:
        plate: The part.
        box: left, top, right, bottom [mm].
    """
    left, bottom, right, top = plate.box
    wide, high = (right - left) * 1e3, (top - bottom) * 1e3
    fitting = [s for s in SCALES if s * wide <= box[2] - box[0] and s * high <= box[3] - box[1]]
    scale = max(fitting, default=min(SCALES))
    return Flat(
        x=(box[0] + box[2]) / 2.0 - scale * 1e3 * (left + right) / 2.0,
        y=(box[1] + box[3]) / 2.0 + scale * 1e3 * (top + bottom) / 2.0,
        scale=scale,
    )


def contour(ink: Ink, flat: Flat, shape: Contour, *, weight: float = tokens.THICK) -> None:
    """A closed outline."""
    ink.path([flat.at(p) for p in shape.polygon(CHORD)], close=True, weight=weight)


def flat_part(ink: Ink, flat: Flat, plate: Plate) -> None:
    """A part with its openings, centre lines and labels.

    Args:
        ink: Where to draw.
        flat: Where and how large.
        plate: The part.
    """
    contour(ink, flat, plate.outline.contour)
    for opening in plate.openings:
        if opening.diameter is not None:
            _round(ink, flat, opening)
        else:
            contour(ink, flat, opening.contour, weight=tokens.PART_EDGE)
    names = {row.name: row.label for row in drilling_table(plate)}
    lines, areas = _lines(flat, plate), _areas(flat, plate)
    for opening in sorted(plate.openings, key=lambda each: each.diameter is None):
        _label(ink, flat, opening, names[opening.name], lines, areas)


def _areas(flat: Flat, plate: Plate) -> STRtree:
    """All openings on paper: a hole's label had better not lie in another opening."""
    from shapely.geometry import Polygon
    from shapely.strtree import STRtree

    contours = [opening.contour.polygon(CHORD) for opening in plate.openings]
    return STRtree([Polygon([flat.at(p) for p in corners]) for corners in contours])


def _lines(flat: Flat, plate: Plate) -> STRtree:
    """All outlines and both axes on paper, for labels that keep off them."""
    from shapely.geometry import LineString
    from shapely.strtree import STRtree

    shapes = [plate.outline.contour, *(each.contour for each in plate.openings)]
    found = []
    for shape in shapes:
        corners = [flat.at(p) for p in shape.polygon(CHORD)]
        found += [LineString(pair) for pair in pairwise([*corners, corners[0]])]
    for opening in plate.openings:
        if opening.diameter is not None:
            (x, y), past = flat.at(opening.centre), 500.0 * flat.scale * opening.diameter + 0.9
            found.append(LineString([(x - past, y), (x + past, y)]))
            found.append(LineString([(x, y - past), (x, y + past)]))
    left, bottom, right, top = plate.box
    (x0, y0), (x1, y1), (x, y) = flat.at((left, bottom)), flat.at((right, top)), flat.at((0.0, 0.0))
    found.append(LineString([(x0 - 3.0, y), (x1 + 3.0, y)]))
    found.append(LineString([(x, y0 + 3.0), (x, y1 - 3.0)]))
    return STRtree(found)


def _round(ink: Ink, flat: Flat, opening: Opening) -> None:
    x, y = flat.at(opening.centre)
    radius = 500.0 * flat.scale * (opening.diameter or 0.0)
    ink.circle(x, y, radius, weight=tokens.PART_EDGE)
    past = radius + 0.9
    ink.line(x - past, y, x + past, y, weight=tokens.FINE)
    ink.line(x, y - past, x, y + past, weight=tokens.FINE)


def _label(
    ink: Ink, flat: Flat, opening: Opening, words: str, lines: STRtree, areas: STRtree
) -> None:
    """The label where it meets neither line nor label: inside what is large, beside a hole."""
    from shapely.geometry import box as rectangle

    x, y = flat.at(opening.centre)
    size = tokens.TINY
    wide, tall = width(words, size), 0.72 * size

    def fits(cx: float, cy: float, trees: tuple[STRtree, ...]) -> bool:
        label = box_of(cx, cy + tall / 2.0, words, size=size, anchor="middle")
        around = rectangle(
            label.left - 0.3, label.top - 0.3, label.right + 0.3, label.bottom + 0.3
        )  # fmt: skip
        clear = not any(len(tree.query(around, predicate="intersects")) for tree in trees)
        return clear and ink.free(label, gap=0.4)

    radius = 500.0 * flat.scale * (opening.diameter or 0.0)
    inside = opening.diameter is None
    for trees in ((lines,),) if inside else ((lines, areas), (lines,)):
        for cx, cy in _places(x, y, radius, wide, tall, inside=inside):
            if fits(cx, cy, trees):
                ink.text(cx, cy + tall / 2.0, words, anchor="middle")
                return


def _places(
    x: float, y: float, radius: float, wide: float, tall: float, *, inside: bool
) -> Iterator[Point]:
    """Middles of a label, best first."""
    if inside:
        yield from ((x, y + up) for up in (0.0, -2.6, 2.6, -4.4, 4.4, -7.0, 7.0))
    for reach in (0.6, 1.0, 1.6, 2.4, 3.4, 4.6, 6.0, 8.0):
        for step in range(24):
            angle = pi / 4.0 + ((step + 1) // 2) * (-1) ** step * pi / 12.0
            yield (
                x + (radius + reach) * cos(angle) + wide / 2.0 * _sign(cos(angle)),
                y - (radius + reach) * sin(angle) - tall / 2.0 * _sign(sin(angle)),
            )


def _sign(value: float) -> float:
    return max(-1.0, min(1.0, 2.5 * value))


def deviation_words(row: Row) -> str:
    """``+0.015 / 0`` in millimetres; empty where there is none."""
    low, high = row.deviation
    if low == 0.0 and high == 0.0:
        return ""
    parts = [("+" if v > 0 else "") + plain(v * 1e3, 3).rstrip("0").rstrip(".") if v else "0"
             for v in (high, low)]  # fmt: skip
    return " / ".join(parts)


def openings_table(ink: Ink, plate: Plate, left: float, top: float, room: float) -> float:
    """All openings, kind by kind: what it is, then where each lies, in two columns.

    Args:
        ink: Where to draw.
        plate: The part.
        left: Left edge [mm].
        top: First base line [mm].
        room: Width [mm].

    Returns:
        The base line after the last row [mm].
    """
    groups: dict[str, list[Row]] = {}
    for row in drilling_table(plate):
        groups.setdefault(row.label.rstrip("0123456789"), []).append(row)
    y = top
    half = room / 2.0
    for x in (left, left + half):
        ink.text(x, y, "label", face=Face.LETTER, colour="ink2")
        ink.text(x + 24.0, y, "x", face=Face.LETTER, colour="ink2", anchor="end")
        ink.text(x + 39.0, y, "y", face=Face.LETTER, colour="ink2", anchor="end")
    ink.line(left, y + 1.3, left + room, y + 1.3)
    y += ROW + 1.2
    for letter, members in groups.items():
        first = members[0]
        words = f"{letter}  {len(members)} × {first.size}"
        ink.text(left, y, words, face=Face.LETTER_STRONG)
        more = " ".join(p for p in (first.fit, deviation_words(first)) if p)
        takes = first.takes or first.name.partition(" ")[0]
        ink.text(left + half, y, f"{more}   {takes}".strip(), face=Face.LETTER)
        y += ROW
        for k in range(0, len(members), 2):
            for column, row in enumerate(members[k : k + 2]):
                x = left + column * half
                ink.text(x, y, row.label)
                ink.text(x + 24.0, y, millimetres(row.x), face=Face.LETTER, anchor="end")
                ink.text(x + 39.0, y, millimetres(row.y), face=Face.LETTER, anchor="end")
            y += ROW
        ink.line(left, y - ROW + 1.1, left + room, y - ROW + 1.1, weight=tokens.FINE, stroke="hair")
        y += 0.5
    return y


def facts_table(
    ink: Ink, title: str, rows: Sequence[tuple[str, str]], left: float, top: float, room: float
) -> None:
    """A titled list of names and values.

    Args:
        ink: Drawn on.
        title: Of the list.
        rows: Name and value of each line.
        left: Left end [mm].
        top: Baseline of the title [mm].
        room: Width [mm].
    """
    ink.text(left, top, title, face=Face.LETTER_STRONG)
    ink.line(left, top + 1.3, left + room, top + 1.3)
    for number, (name, value) in enumerate(rows, start=1):
        ink.text(left, top + 4.0 * number, name, face=Face.LETTER)
        ink.text(left + room, top + 4.0 * number, value, anchor="end")
