"""Tables of openings: what is drilled, reamed or cut where."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from io import StringIO
from itertools import pairwise
from typing import NamedTuple

from legwright.fabrication.openings import Opening
from legwright.fabrication.plate import Plate


class Row(NamedTuple):
    """One opening of a part."""

    label: str
    """``A3``: a letter for each kind, a number for each opening."""
    x: float
    """Centre in the part's plane [m]."""
    y: float
    size: str
    """``⌀2.9`` or ``46.4 × 24.4``, millimetres."""
    fit: str
    """``H13``"""
    deviation: tuple[float, float]
    """Lower and upper deviation of a diameter [m]."""
    takes: str
    name: str


LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Without I and O, which read as digits."""


def drilling_table(plate: Plate) -> tuple[Row, ...]:
    """The openings of a part, kind by kind, smallest holes first, then what is cut.

    Args:
        plate: The part.
    """
    kinds: dict[tuple[object, ...], list[Opening]] = {}
    for opening in sorted(plate.openings, key=_order):
        kinds.setdefault(_kind(opening), []).append(opening)
    rows = []
    for number, members in enumerate(kinds.values()):
        letter = LETTERS[number % len(LETTERS)] * (1 + number // len(LETTERS))
        for count, opening in enumerate(members, start=1):
            rows.append(_row(f"{letter}{count}", opening))
    return tuple(rows)


def _order(opening: Opening) -> tuple[bool, float, float, float]:
    return (
        opening.diameter is None,
        opening.diameter or opening.smallest,
        -round(opening.centre[0], 6),
        -round(opening.centre[1], 6),
    )


def _kind(opening: Opening) -> tuple[object, ...]:
    return (opening.purpose, size_words(opening), opening.fit, opening.takes)


def _row(label: str, opening: Opening) -> Row:
    return Row(
        label=label,
        x=opening.centre[0],
        y=opening.centre[1],
        size=size_words(opening),
        fit=opening.fit,
        deviation=(opening.lower, opening.upper),
        takes=opening.takes,
        name=opening.name,
    )


def size_words(opening: Opening) -> str:
    """``⌀2.9`` or ``46.4 × 24.4`` [mm]."""
    if opening.diameter is not None:
        return f"⌀{opening.diameter * 1e3:.4g}"
    corners = opening.outline.corners if opening.outline is not None else ()
    sides = [((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for a, b in pairwise(corners[:3])]
    return " × ".join(f"{side * 1e3:.4g}" for side in sides)


def drilling_csv(plates: Sequence[Plate]) -> str:
    """All openings of several parts as comma-separated text, millimetres.

    Args:
        plates: The parts.
    """
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(
        ["part", "label", "x_mm", "y_mm", "size_mm", "fit", "lower_mm", "upper_mm", "takes", "name"]
    )
    for plate in plates:
        for row in drilling_table(plate):
            low, high = row.deviation
            writer.writerow(
                [
                    plate.name, row.label, f"{row.x * 1e3:.3f}", f"{row.y * 1e3:.3f}", row.size,
                    row.fit, f"{low * 1e3:.3f}", f"{high * 1e3:.3f}", row.takes, row.name,
                ]
            )  # fmt: skip
    return stream.getvalue()
