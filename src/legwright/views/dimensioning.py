"""Dimensions in the manner of ISO 129: extension lines, dimension lines outside the part."""

from __future__ import annotations

from math import atan2, hypot, pi

from legwright.views import tokens
from legwright.views.ink import Ink, Point, box_of
from legwright.views.numbers import plain

GAP, PAST = 0.8, 1.2
"""Between part and extension line, and what it reaches past the dimension line [mm]."""
INSIDE = 8.0
"""Shorter dimensions have their arrowheads outside [mm]."""


def millimetres(length: float) -> str:
    """A length as drawings write it: millimetres without unit, at most two decimals.

    Args:
        length: [m].
    """
    text = plain(length * 1e3, 2)
    return text.rstrip("0").rstrip(".") if "." in text else text


def across(ink: Ink, start: Point, end: Point, at: float, words: str) -> None:
    """A horizontal dimension between two points, its line at height `at`.

    Args:
        ink: Where to draw.
        start: Left point [mm].
        end: Right point [mm].
        at: Height of the dimension line [mm].
        words: The number.
    """
    for x, y in (start, end):
        side = 1.0 if at > y else -1.0
        ink.line(x, y + side * GAP, x, at + side * PAST, weight=tokens.FINE)
    _line(ink, (start[0], at), (end[0], at), words, upright=False)


def along(ink: Ink, start: Point, end: Point, at: float, words: str) -> None:
    """A vertical dimension between two points, its line at `at` from the left.

    Args:
        ink: Where to draw.
        start: Lower point [mm].
        end: Upper point [mm].
        at: Place of the dimension line [mm].
        words: The number.
    """
    for x, y in (start, end):
        side = 1.0 if at > x else -1.0
        ink.line(x + side * GAP, y, at + side * PAST, y, weight=tokens.FINE)
    _line(ink, (at, start[1]), (at, end[1]), words, upright=True)


def _line(ink: Ink, a: Point, b: Point, words: str, *, upright: bool) -> None:
    length = abs(b[1] - a[1]) if upright else abs(b[0] - a[0])
    ahead = -pi / 2.0 if upright else 0.0
    if upright and b[1] > a[1]:
        ahead = pi / 2.0
    outside = length < INSIDE
    more = 4.0 if outside else 0.0
    sign = 1.0 if (b[1] > a[1] if upright else b[0] > a[0]) else -1.0
    if upright:
        ink.line(a[0], a[1] - sign * more, b[0], b[1] + sign * more)
    else:
        ink.line(a[0] - sign * more, a[1], b[0] + sign * more, b[1])
    turn = pi if outside else 0.0
    ink.arrow_head(*b, ahead + turn)
    ink.arrow_head(*a, ahead + pi + turn)
    middle = ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0)
    if upright:
        ink.text(middle[0] - 0.9, middle[1], words, anchor="middle", upright=True, knock=True)
    else:
        ink.text(middle[0], middle[1] - 0.9, words, anchor="middle", knock=True)


def leader(ink: Ink, point: Point, knee: Point, words: str, *, size: float = tokens.TINY) -> None:
    """A note with a line and an arrowhead at what it speaks of.

    Args:
        ink: Where to draw.
        point: What it points at [mm].
        knee: Where the words' line begins [mm].
        words: The note.
        size: Of the lettering [mm].
    """
    right = knee[0] >= point[0]
    label = box_of(knee[0] + (1.0 if right else -1.0), knee[1] - 0.8, words, size=size,
                   anchor="start" if right else "end")  # fmt: skip
    ink.arrow(*knee, *point, weight=tokens.FINE)
    ink.line(knee[0], knee[1], label.right if right else label.left, knee[1], weight=tokens.FINE)
    ink.text(knee[0] + (1.0 if right else -1.0), knee[1] - 0.8, words, size=size,
             anchor="start" if right else "end")  # fmt: skip


def aligned(ink: Ink, a: Point, b: Point, away: float, words: str) -> None:
    """A dimension line parallel to a-b, beside it; its number level, in a gap of the line.

    Args:
        ink: Where to draw.
        a: One end [mm].
        b: The other [mm].
        away: Distance of the line, negative for the other side; above where it is nearly level.
        words: The number.
    """
    length = hypot(b[0] - a[0], b[1] - a[1])
    if length < 1e-6:
        return
    tx, ty = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    nx, ny = -ty * away, tx * away
    if ny > 0.0 and abs(ty) < 0.5:
        nx, ny = -nx, -ny
    p, q = (a[0] + nx, a[1] + ny), (b[0] + nx, b[1] + ny)
    for start, end in ((a, p), (b, q)):
        ink.line(
            start[0] + 0.2 * nx, start[1] + 0.2 * ny, end[0] + 0.14 * nx, end[1] + 0.14 * ny,
            weight=tokens.FINE,
        )  # fmt: skip
    ink.line(*p, *q)
    angle = atan2(ty, tx)
    ink.arrow_head(*q, angle)
    ink.arrow_head(*p, angle + pi)
    ink.text((p[0] + q[0]) / 2, (p[1] + q[1]) / 2 + 0.9, words, anchor="middle", knock=True)
