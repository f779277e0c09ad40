"""The envelope: how far speed, payload, slope and height go, and what stops each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from legwright.views import tokens
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face, wrap
from legwright.views.numbers import significant, with_unit
from legwright.views.symbols import empty_sentence, title

if TYPE_CHECKING:
    from legwright.study.evidence import Extent

ROW = 6.4
"""Height of one row [mm]."""


def envelope(extents: Sequence[Extent], *, width: float) -> Drawing:
    """One line an edge: allowed as far as the thick stroke, hatched beyond, dot = asked for.

    Args:
        extents: Edges of the envelope.
        width: [mm]

    Returns:
        The drawing; its height follows from the number of edges.
    """
    groups = _by_name(extents)
    ink = Ink(width, height_of(extents), about="Envelope")
    title(ink, "Envelope", "allowed up to the thick line, dot = asked for")
    if not extents:
        empty_sentence(ink, "The envelope was not worked out for this robot.")
        return ink.finish()
    y = 10.0
    for name, rows in groups.items():
        ink.line(4.0, y, width - 4.0, y, weight=tokens.FINE, stroke="hair")
        ink.text(4.0, y + 4.6, name, size=2.9, face=Face.LETTER_MEDIUM)
        most = max((max(abs(e.value or 0.0), abs(e.required or 0.0)) for e in rows), default=1.0)
        for extent in rows:
            _row(ink, extent, y + ROW / 2 + 0.4, (most or 1.0) * 1.25, width)
            y += ROW
        y += 2.2
    return ink.finish()


def height_of(extents: Sequence[Extent]) -> float:
    """How tall the drawing gets [mm]."""
    groups = _by_name(extents)
    return max(13.0 + sum(ROW * len(rows) + 2.2 for rows in groups.values()), 30.0)


def _by_name(extents: Sequence[Extent]) -> dict[str, list[Extent]]:
    groups: dict[str, list[Extent]] = {}
    for extent in extents:
        groups.setdefault(extent.name, []).append(extent)
    return groups


def _row(ink: Ink, extent: Extent, y: float, most: float, width: float) -> None:
    start, end = 62.0, 62.0 + (width - 62.0) * 0.40
    if extent.gait:
        ink.text(46.0, y + 0.9, extent.gait, face=Face.LETTER, colour="ink2")
    if extent.value is None:
        ink.rect(start, y - 1.4, end - start, 2.8, dash="hidden")
        ink.text(end + 3.0, y + 0.9, "not known", face=Face.LETTER_MEDIUM)
        return
    at = start + (end - start) * min(max(abs(extent.value) / most, 0.0), 1.0)
    ink.line(start, y, end, y)
    ink.line(start, y - 1.2, start, y + 1.2)
    far = start if extent.name.startswith("lowest") else end
    ink.hatch([(at, y - 1.5), (far, y - 1.5), (far, y + 1.5), (at, y + 1.5)], gap=1.1)
    ink.line(at, y - 2.0, at, y + 2.0, weight=tokens.THICK)
    if extent.required is not None:
        _asked(ink, extent, y, start + (end - start) * min(abs(extent.required) / most, 1.0), at)
    ink.text(
        end + 3.0,
        y + 1.0,
        with_unit(significant(extent.value), extent.unit),
        size=2.9,
        face=Face.LETTER_STRONG,
    )
    room = width - end - 24.0
    words = wrap(extent.stopped_by, 2.3, room, Face.LETTER)
    shown = words[0] + ("…" if len(words) > 1 else "")
    ink.text(end + 21.0, y + 0.9, shown, size=2.3, face=Face.LETTER, colour="ink2")


def _asked(ink: Ink, extent: Extent, y: float, x: float, at: float) -> None:
    low = extent.name.startswith("lowest")
    short = (x < at - 1e-9) if low else (x > at + 1e-9)
    if short:
        ink.line(at, y, x, y, stroke="red", weight=tokens.RED_TRACE)
    ink.circle(x, y, 0.95, stroke="none", fill="red" if short else "ink")
