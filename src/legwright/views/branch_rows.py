"""One row of the schematic: from the hub's port along the daisy chain to its end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Consumer, Item, Kind
from legwright.electrics.readings import Readings
from legwright.study.finding import Verdict
from legwright.views import circuit_signs as signs
from legwright.views import tokens
from legwright.views.circuit_rows import Row, Stop
from legwright.views.ink import Ink
from legwright.views.lettering import Face, width
from legwright.views.symbols import limit_mark
from legwright.views.wide_sheet import ROOM

WIDTH = ROOM[0]
MARK, LOWEST, NAME = WIDTH - 32.0, WIDTH - 25.0, WIDTH - 4.0
"""Columns at the right: mark, lowest voltage, name [mm]."""


@dataclass(slots=True)
class Board:
    """A sheet of the schematic in the making."""

    ink: Ink
    circuit: Circuit
    readings: Readings
    extents: dict[str, tuple[float, float]] = field(default_factory=dict)
    """Designation -> left and right end on the sheet [mm]."""
    ends: dict[str, tuple[float, int]] = field(default_factory=dict)
    """Designation -> height of its row, and the column behind it."""
    legs: Mapping[str, int] = field(default_factory=dict)
    """Branch -> index of the leg it feeds."""
    hub_bottom: float = 0.0
    """Lower edge of the hub [mm]."""
    names: Sequence[str] = ()
    hips: Sequence[tuple[float, float]] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Where the columns right of the hub lie [mm]."""

    fuse: float | None
    centres: tuple[float, ...]
    """Of the consumers."""


def draw_row(board: Board, row: Row, y: float, right: float, place: Columns) -> None:
    """Draws one row.

    Args:
        board: The sheet in the making.
        row: The row.
        y: Its height [mm].
        right: The hub's right edge [mm].
        place: The columns.
    """
    ink = board.ink
    if row.spare:
        signs.letters(ink, right + 3.0, y + 0.9, "spare", face=Face.LETTER, colour="ink2")
        return
    colour = "red" if _verdict(board, row) is Verdict.FAIL else "ink"
    x, column = right, 0
    if row.goes_on_from:
        x = right + 16.0
        ink.text(x - 1.5, y + 0.9, f"from {row.goes_on_from}", anchor="end", face=Face.LETTER)
        ink.dots([(x, y)], 0.55)
    if row.tee in board.ends:
        above, column = board.ends[row.tee]
        x = board.extents[row.tee][1] + 6.5
        column = min(column + 1, len(place.centres) - 1)
        ink.path([(x, above), (x, y)], weight=tokens.PART_EDGE)
        ink.dots([(x, above)], 0.55)
    for stop in row.stops:
        x, column = _stop(board, stop, (x, y), place, column, colour)
    _verdict_cells(board, row, y)


def _stop(
    board: Board, stop: Stop, at: tuple[float, float], place: Columns, column: int, colour: str
) -> tuple[float, int]:
    """Draws one consumer and what lies before it; returns where the line ends."""
    ink, (x, y) = board.ink, at
    before = [item for item in stop.way if item.kind is not Kind.REGULATOR]
    converters = [item for item in stop.way if item.kind is Kind.REGULATOR]
    for item in converters:
        centre = place.centres[column]
        _wired(board, before, x, centre - 4.0, y, colour, place)
        board.extents[item.designation] = (centre - 4.0, centre + 4.0)
        board.ends[item.designation] = (y, column + 1)
        with ink.part(item.designation):
            signs.regulator(ink, centre, y)
            words = item.designation
            signs.letters(ink, centre + 4.8, y + 3.9, words, colour="ink2", face=Face.LETTER)
            signs.letters(ink, centre + 4.8, y - 2.1, f"{item.voltage:g}\u202fV")
        before, x, column = [], centre + 4.0, column + 1
    centre = place.centres[min(column, len(place.centres) - 1)]
    half = signs.MOTOR if stop.consumer.kind is not Kind.LOAD else 5.0
    _wired(board, before, x, centre - half, y, colour, place)
    board.extents[stop.consumer.designation] = (centre - half, centre)
    with ink.part(stop.consumer.designation):
        signs.consumer(ink, centre, y, stop.consumer, colour)
        _told(board, stop.consumer, centre, y, half, converted=bool(converters))
    return centre + half, column + 1


def _wired(
    board: Board,
    items: Sequence[Item],
    x0: float,
    x1: float,
    y: float,
    colour: str,
    place: Columns,
) -> None:
    """The line between two signs with what lies on it."""
    ink = board.ink
    cable = next((item for item in items if item.kind is Kind.CABLE), None)
    start = x0
    fuses = [item for item in items if item.kind is Kind.FUSE]
    if fuses and place.fuse is not None:
        ink.line(x0, y, place.fuse, y, weight=signs.weight_of(cable), stroke=colour)
        start = place.fuse + 4.0
    with ink.part(cable.designation) if cable is not None else nullcontext():
        ink.line(start, y, x1, y, weight=signs.weight_of(cable), stroke=colour)
    for item in fuses[:1]:
        centre = place.fuse or x0 + 6.0
        board.extents[item.designation] = (centre - 4.0, centre + 4.0)
        with ink.part(item.designation):
            signs.fuse(ink, centre, y, colour)
            signs.letters(ink, centre, y - 2.2, item.designation, anchor="middle")
            signs.letters(ink, centre, y + 4.5, signs.rated(item.rating), anchor="middle")
    plugs = [item for item in items if item.kind is Kind.CONNECTOR]
    near = [p for p in plugs if cable is not None and p.end == cable.start]
    far = [p for p in plugs if p not in near]
    long = x1 - start > 28.0
    left = start + (4.6 if near else 1.0) + (2.0 if long else 0.0)
    if near:
        at = start + (3.4 if long else 1.9)
        with ink.part(near[0].designation):
            signs.plug(ink, at, y, colour)
        board.extents[near[0].designation] = (at - 1.6, at + 1.6)
    if far:
        with ink.part(far[0].designation):
            signs.plug(ink, x1 - 1.9, y, colour, mirrored=True)
        board.extents[far[0].designation] = (x1 - 3.5, x1 - 0.3)
    if cable is not None:
        span = (left, x1 - (3.8 if far else 0.4))
        board.extents[cable.designation] = span
        with ink.part(cable.designation):
            _cable(board, cable, span, y, colour, lead=long, plugs=(near, far))


def _cable(
    board: Board,
    cable: Item,
    span: tuple[float, float],
    y: float,
    colour: str,
    *,
    lead: bool,
    plugs: tuple[Sequence[Item], Sequence[Item]],
) -> None:
    ink, readings = board.ink, board.readings
    left, right = span
    above, below = y - 2.1, y + 3.9
    if not lead:
        signs.letters(ink, right, above, cable.designation, anchor="end")
        signs.letters(ink, right, below, signs.length_words(cable), anchor="end")
        return
    if plugs[0]:
        name = plugs[0][0].designation
        signs.letters(ink, left - 3.2, above, name, face=Face.LETTER, anchor="middle")
        left += 1.8
    signs.letters(ink, left, above, cable.designation)
    signs.letters(ink, right, above, signs.size_words(cable), anchor="end", colour=colour)
    words = signs.length_words(cable)
    at = left - 5.4 if plugs[0] else left
    signs.letters(ink, at, below, words)
    peak = readings.peak.get(cable.designation, readings.current.get(cable.designation))
    if peak is None:
        return
    lost = readings.drop.get(cable.designation, peak * cable.resistance)
    middle = (at + width(words, tokens.TINY) + right) / 2.0
    signs.letters(ink, right, below, signs.drop(lost), anchor="end", colour=colour)
    signs.letters(ink, middle - 1.5, below, signs.amps(peak), anchor="middle")


def _told(board: Board, one: Consumer, x: float, y: float, half: float, *, converted: bool) -> None:
    """Voltage above and designation below, right of a consumer's sign."""
    ink, readings = board.ink, board.readings
    value = readings.lowest.get(one.name, readings.voltage.get(one.node))
    if one.kind is not Kind.SERVO:
        if one.kind is Kind.LOAD:
            signs.letters(ink, x, y + 0.9, one.designation, anchor="middle")
        else:
            signs.letters(ink, x + half + 0.8, y + 3.9, one.designation, colour="ink2",
                          face=Face.LETTER)  # fmt: skip
        signs.letters(ink, x + half + 1.2, y - 2.1, one.name, room=16.0)
        watts = one.peak_power or one.power
        signs.letters(
            ink, x + half + (1.2 if one.kind is Kind.LOAD else 8.5), y + 3.9, f"{watts:.3g}\u202fW"
        )
        return
    low = readings.least.get(one.name)
    red = value is not None and low is not None and value < low
    if value is not None and not converted:
        signs.letters(
            ink, x + half + 0.6, y - 2.1, signs.volts(value), colour="red" if red else "ink"
        )
    signs.letters(ink, x + half + 0.6, y + 3.9, one.designation, colour="ink2", face=Face.LETTER)


def _lowest(board: Board, row: Row) -> tuple[float, float | None] | None:
    """Lowest voltage of a row and the least allowed there, where it is nearest to it."""
    found = []
    for stop in row.stops:
        name = stop.consumer.name
        value = board.readings.lowest.get(name)
        if value is None:
            node = stop.consumer.node
            for item in stop.way:
                if item.kind is Kind.REGULATOR:
                    node = item.start
                    break
            value = board.readings.voltage.get(node)
        if value is not None and value == value:
            low = board.readings.least.get(name) or None
            found.append((value - (low or 0.0), value, low))
    if not found:
        return None
    _, value, low = min(found, key=lambda each: each[0])
    return value, low


def spare_of(board: Board, row: Row) -> float:
    """Voltage above what the most sensitive consumer of a row works at [V]."""
    value, low = _lowest(board, row) or (float("inf"), None)
    return value - (low or 0.0)


def _verdict(board: Board, row: Row) -> Verdict:
    """As the drawing shows it: outside, inside, or no limit stated."""
    pair = _lowest(board, row)
    if pair is None or pair[1] is None:
        return Verdict.UNKNOWN
    return Verdict.FAIL if pair[0] < pair[1] else Verdict.PASS


def _verdict_cells(board: Board, row: Row, y: float) -> None:
    ink = board.ink
    pair = _lowest(board, row)
    verdict = _verdict(board, row)
    limit_mark(ink, MARK, y - 1.7, 3.4, verdict)
    if pair is not None:
        ink.text(
            LOWEST, y + 1.2, signs.volts(pair[0]), size=tokens.SMALL,
            face=Face.LETTER_STRONG if verdict is Verdict.FAIL else Face.LETTER_MEDIUM,
            colour="red" if verdict is Verdict.FAIL else "ink",
        )  # fmt: skip
    index = board.legs.get(row.branch)
    name = board.names[index] if index is not None else (row.branch or row.stops[-1].consumer.name)
    size = tokens.SMALL if width(name, tokens.SMALL, Face.LETTER) < 11.0 else tokens.TINY
    signs.letters(ink, NAME, y + 1.2, name, size=size, face=Face.LETTER, anchor="end", room=11.5)
