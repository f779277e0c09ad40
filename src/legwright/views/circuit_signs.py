"""Signs of a schematic: IEC 60617 shapes (from memory), line width after the wire's size."""

from __future__ import annotations

from math import cos, pi, sin, sqrt

from legwright.electrics.parts import Consumer, Item, Kind
from legwright.views import tokens
from legwright.views.ink import Ink, Label, box_of
from legwright.views.lettering import Face, width
from legwright.views.numbers import plain, significant, with_unit

MOTOR = 3.5
"""Radius of a motor's circle [mm]."""


def weight_of(item: Item | None) -> float:
    """Line width of a wire, growing with the root of its cross-section [mm]."""
    if item is None or item.wire is None:
        return tokens.PART_EDGE
    return min(max(0.05 + 0.42 * sqrt(item.wire.area * 1e6), 0.2), 1.3)


def letters(
    ink: Ink,
    x: float,
    y: float,
    words: str,
    *,
    room: float = 1e9,
    anchor: str = "start",
    size: float = tokens.TINY,
    face: Face = Face.LETTER_MEDIUM,
    colour: str = "ink",
) -> Label | None:
    """Lettering where it fits in its room and meets no other; left out elsewhere."""
    clean = " ".join(words.split())
    while clean and width(clean, size, face) > room:
        clean = clean[:-2].rstrip() + "…" if len(clean) > 2 else ""
    if not clean or not ink.free(box_of(x, y, clean, size=size, face=face, anchor=anchor), gap=0.1):
        return None
    return ink.text(x, y, clean, size=size, face=face, colour=colour, anchor=anchor)


def battery(ink: Ink, x: float, y: float, colour: str = "ink") -> None:
    """A battery in its box, 14 × 16 mm, centred."""
    ink.rect(x - 7.0, y - 8.0, 14.0, 16.0, weight=tokens.PART_EDGE, fill="sheet")
    for dx, half, weight in ((-2.4, 4.2, 0.5), (-0.8, 2.2, 0.9), (0.8, 4.2, 0.5), (2.4, 2.2, 0.9)):
        ink.line(x + dx, y - half, x + dx, y + half, weight=weight, stroke=colour)
    ink.line(x - 7.0, y, x - 2.4, y)
    ink.line(x + 2.4, y, x + 7.0, y)


def fuse(ink: Ink, x: float, y: float, colour: str = "ink") -> None:
    """A fuse, 8 × 3.2 mm, centred."""
    ink.rect(x - 4.0, y - 1.6, 8.0, 3.2, weight=tokens.PART_EDGE, fill="sheet", stroke=colour)
    ink.line(x - 4.0, y, x + 4.0, y, stroke=colour)


def switch(ink: Ink, x: float, y: float, weight: float) -> None:
    """An open switch with its emergency-stop mushroom, 9 mm wide, centred."""
    ink.rect(x - 4.5, y - weight / 2 - 0.2, 9.0, weight + 0.4, stroke="none", fill="sheet")
    ink.path([(x - 4.3, y - 4.2), (x + 4.0, y)], weight=max(weight * 0.7, 0.5))
    ink.dots([(x - 4.5, y), (x + 4.5, y)], 0.65)
    ink.line(x, y - 2.2, x, y - 9.5, dash="hidden")
    arc = [(x + 3.2 * cos(a), y - 9.5 - 3.2 * sin(a)) for a in (k * pi / 16 for k in range(17))]
    ink.path(arc, close=True, weight=tokens.PART_EDGE, fill="sheet")


def plug(ink: Ink, x: float, y: float, colour: str = "ink", *, mirrored: bool = False) -> None:
    """Pin and socket, 3.2 mm wide, centred."""
    way = -1.0 if mirrored else 1.0
    ink.rect(x - 1.6, y - 0.9, 3.2, 1.8, stroke="none", fill="sheet")
    ink.line(x - 1.6 * way, y, x + 0.2 * way, y, weight=0.9, stroke=colour)
    arc = [
        (x + way * (1.5 - 1.2 * cos(a)), y + 1.2 * sin(a))
        for a in (k * pi / 12 - pi / 2 for k in range(13))
    ]
    ink.path(arc, weight=tokens.PART_EDGE, stroke=colour)


def motor(ink: Ink, x: float, y: float, colour: str = "ink") -> None:
    """A servo: M in a circle."""
    ink.circle(x, y, MOTOR, weight=tokens.PART_EDGE, fill="sheet", stroke=colour)
    ink.text(
        x, y + 1.25, "M", size=tokens.SMALL, face=Face.LETTER_MEDIUM, anchor="middle", colour=colour
    )


def regulator(ink: Ink, x: float, y: float) -> None:
    """A direct-current converter: a square halved by a diagonal, centred, 8 × 7 mm."""
    ink.rect(x - 4.0, y - 3.5, 8.0, 7.0, weight=tokens.PART_EDGE, fill="sheet")
    ink.line(x - 4.0, y + 3.5, x + 4.0, y - 3.5)
    for cx, cy in ((x - 1.9, y - 1.6), (x + 1.9, y + 1.6)):
        ink.line(cx - 1.0, cy - 0.4, cx + 1.0, cy - 0.4)
        ink.segments(
            [((cx - 1.0 + 0.75 * k, cy + 0.4), (cx - 0.5 + 0.75 * k, cy + 0.4)) for k in range(3)],
            stroke="ink",
            weight=tokens.THIN,
        )


def lamp(ink: Ink, x: float, y: float) -> None:
    """Lights: a crossed circle."""
    ink.circle(x, y, MOTOR, weight=tokens.PART_EDGE, fill="sheet")
    d = MOTOR / sqrt(2.0)
    ink.segments(
        [((x - d, y - d), (x + d, y + d)), ((x - d, y + d), (x + d, y - d))],
        stroke="ink",
        weight=tokens.THIN,
    )


def consumer(ink: Ink, x: float, y: float, one: Consumer, colour: str = "ink") -> float:
    """A consumer's sign, centred; returns half its width [mm]."""
    if one.kind is Kind.SERVO:
        motor(ink, x, y, colour)
        return MOTOR
    if one.kind is Kind.LIGHTS:
        lamp(ink, x, y)
        return MOTOR
    ink.rect(x - 5.0, y - 3.2, 10.0, 6.4, weight=tokens.PART_EDGE, fill="sheet", stroke=colour)
    ink.line(x - 5.0, y, x - 3.4, y)
    return 5.0


def length_words(item: Item) -> str:
    """``0.38 m`` or ``85 mm``; in brackets where assumed, ``length?`` where not known."""
    if item.length is None:
        return "length?"
    from legwright.electrics.parts import Origin

    if item.length < 0.9995:
        words = with_unit(plain(item.length * 1000.0, 0), "mm")
    else:
        words = with_unit(plain(item.length, 2), "m")
    return f"({words})" if item.origin is Origin.STRAIGHT else words


def size_words(item: Item) -> str:
    """``20 AWG``; ``size?`` where the sheet states none."""
    return item.wire.name.replace(" ", "\u202f") if item.wire else "size?"


def amps(value: float) -> str:
    """``9.6 A``."""
    return with_unit(plain(value, 1 if value < 99.95 else 0), "A")


def volts(value: float) -> str:
    """``10.8``, a voltage without its unit."""
    return plain(value, 1 if abs(value) >= 9.95 else 2)


def drop(value: float) -> str:
    """``−0.20 V``."""
    return with_unit(plain(-value, 2), "V")


def rated(value: float | None) -> str:
    """``15 A``; ``A?`` where not stated."""
    return "A?" if value is None else with_unit(significant(value), "A")
