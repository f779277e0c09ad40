"""The assembler's lists as printed tables on landscape sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from legwright.electrics.bill import bill_of
from legwright.electrics.bring_up import CAUTIONS, Step, bring_up
from legwright.electrics.circuit import Circuit
from legwright.electrics.cut_list import cut_list, wire_totals
from legwright.electrics.parts import Origin
from legwright.electrics.pin_table import pin_table
from legwright.electrics.wire_list import COLOUR_NAMES, wire_list
from legwright.robot.robot import Robot
from legwright.views import tokens
from legwright.views.ink import Ink
from legwright.views.lettering import Face, width, wrap
from legwright.views.numbers import plain, significant, with_unit
from legwright.views.symbols import title
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
TOP, LINE = 17.0, 3.5
"""First line of a table, and the distance of lines [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table."""

    name: str
    width: float
    """[mm]"""
    right: bool = False
    """Whether it ends at its right edge: numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One list."""

    name: str
    """Stem of its sheets: ``wire-list``."""
    heading: str
    more: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    abreast: int = 1
    """Strips side by side on a sheet."""


def list_sheets(robot: Robot, circuit: Circuit) -> tuple[WideSheet, ...]:
    """Wire list, cut list, pins, parts, and the assembly and test sequence.

    Args:
        robot: The robot.
        circuit: Its circuit.

    Returns:
        Sheets.
    """
    bus = robot.sheet.bus.kind if robot.sheet.bus else ""
    tables = (
        _wires(circuit, bus),
        _cuts(circuit, bus),
        _pins(circuit, bus),
        _bill(robot, circuit),
        _steps(bring_up(circuit, robot)),
    )
    return tuple(sheet for table in tables for sheet in table_sheets(table))


def table_sheets(table: Table) -> tuple[WideSheet, ...]:
    """A table dealt onto sheets; cells that are too long are broken, no row is split.

    Args:
        table: The table.

    Returns:
        At least one sheet.
    """
    cells = [
        [_broken(c, col) for c, col in zip(row, table.columns, strict=True)] for row in table.rows
    ]
    tall = [max(len(lines) for lines in row) * LINE + 0.5 for row in cells]
    room = HEIGHT - TOP - 3.0
    strips: list[list[int]] = [[]]
    used = 0.0
    for index, height in enumerate(tall):
        if strips[-1] and used + height > room:
            strips.append([])
            used = 0.0
        strips[-1].append(index)
        used += height
    groups = [strips[k : k + table.abreast] for k in range(0, len(strips), table.abreast)]
    sheets = []
    for number, group in enumerate(groups, start=1):
        suffix = f"-{number}" if len(groups) > 1 else ""
        more = f", {number} of {len(groups)}" if len(groups) > 1 else ""
        ink = Ink(WIDTH, HEIGHT, about=table.heading + more)
        title(ink, table.heading, table.more)
        for strip, indices in enumerate(group):
            x = 4.0 + strip * (WIDTH - 4.0) / table.abreast
            _strip(ink, table, x, [cells[i] for i in indices], [tall[i] for i in indices])
        sheets.append(
            WideSheet(
                name=table.name + suffix,
                subtitle=table.heading.lower() + more,
                drawing=ink.finish(),
                notes=CAUTIONS,
            )
        )
    return tuple(sheets)


def _broken(words: str, column: Column) -> list[str]:
    """A cell in lines; words longer than the column are cut."""
    room = column.width - 1.6
    lines = []
    for line in wrap(words, tokens.TINY, room, Face.LETTER_MEDIUM):
        short = line
        while short and width(short, tokens.TINY) > room:
            short = short[:-2] + "…" if len(short) > 2 else ""
        lines.append(short)
    return lines


def _strip(
    ink: Ink,
    table: Table,
    x: float,
    cells: Sequence[Sequence[Sequence[str]]],
    tall: Sequence[float],
) -> None:
    total = sum(column.width for column in table.columns)
    y = TOP
    at = x
    for column in table.columns:
        spot = at + column.width - 1.6 if column.right else at
        anchor = "end" if column.right else "start"
        ink.text(spot, TOP - 5.0, column.name, face=Face.LETTER, colour="ink2", anchor=anchor)
        at += column.width
    ink.line(x, TOP - 3.4, x + total - 1.6, TOP - 3.4)
    for row, height in zip(cells, tall, strict=True):
        at = x
        for number, (column, lines) in enumerate(zip(table.columns, row, strict=True)):
            spot = at + column.width - 1.6 if column.right else at
            anchor = "end" if column.right else "start"
            face = Face.LETTER_MEDIUM if number == 0 or column.right else Face.LETTER
            for k, line in enumerate(lines):
                if line:
                    ink.text(spot, y + LINE * k, line, face=face, anchor=anchor)
            at += column.width
        y += height
        ink.line(x, y - 2.45, x + total - 1.6, y - 2.45, weight=tokens.FINE, stroke="hair")


def _mm(length: float | None, origin: Origin | None = None) -> str:
    if length is None:
        return "not known"
    words = plain(1000.0 * length, 0)
    return f"({words})" if origin is Origin.STRAIGHT else words


def _wires(circuit: Circuit, bus: str) -> Table:
    rows = []
    for row in wire_list(circuit, bus=bus):
        ends = [end.device.partition(" (")[0] for end in (row.start, row.end)]
        plugs = [
            f"{end.connector}:{end.pin}" if end.connector else "" for end in (row.start, row.end)
        ]
        rows.append(
            (
                row.name, row.net, f"{row.colour} {COLOUR_NAMES[row.colour]}", row.size,
                _mm(row.length, row.origin), ends[0], plugs[0], row.start.terminal,
                ends[1], plugs[1], row.end.terminal,
            )
        )  # fmt: skip
    names = (
        ("wire", 12.0), ("net", 12.0), ("colour", 14.0), ("size", 12.0), ("mm", 11.0),
        ("from", 17.0), ("plug", 13.0), ("kind", 9.0), ("to", 10.0), ("plug", 13.0), ("kind", 8.0),
    )  # fmt: skip
    columns = tuple(Column(name=n, width=w, right=n == "mm") for n, w in names)
    return Table(
        name="wire-list",
        heading="Wire list",
        more="every wire, from end to end; lengths in brackets are assumed",
        columns=columns,
        rows=tuple(rows),
        abreast=2,
    )


def _cuts(circuit: Circuit, bus: str) -> Table:
    cuts = cut_list(wire_list(circuit, bus=bus))
    rows: list[tuple[str, ...]] = [
        (
            f"{cut.size} {COLOUR_NAMES[cut.colour]}", cut.insulation, _mm(cut.length),
            str(cut.count),
            "" if cut.length is None else plain(cut.count * cut.length, 2),
            " ".join(cut.wires),
        )
        for cut in cuts
    ]  # fmt: skip
    for sum_ in wire_totals(cuts):
        left_out = f", {sum_.unknown} of unknown length left out" if sum_.unknown else ""
        rows.append(
            (
                f"{sum_.size} {COLOUR_NAMES[sum_.colour]}", sum_.insulation, "all",
                str(sum_.count), plain(sum_.length, 2), "total" + left_out,
            )
        )  # fmt: skip
    names = (("wire", 30.0), ("insulation", 20.0), ("mm", 14.0), ("pieces", 14.0), ("metres", 16.0))
    columns = tuple(
        Column(name=n, width=w, right=n in {"mm", "pieces", "metres"}) for n, w in names
    )
    return Table(
        name="cut-list",
        heading="Cut list",
        more="strip to strip, without waste",
        columns=(*columns, Column(name="wires", width=160.0)),
        rows=tuple(rows),
    )


def _pins(circuit: Circuit, bus: str) -> Table:
    rows = tuple(
        (
            row.connector, row.kind, row.device.partition(" (")[0], str(row.pin or ""), row.net,
            row.colour, row.wire,
        )
        for row in pin_table(circuit, bus=bus)
    )  # fmt: skip
    names = (
        ("plug", 16.0), ("kind", 9.0), ("goes into", 17.0), ("pin", 6.0), ("net", 12.0),
        ("colour", 9.0), ("wire", 13.0),
    )  # fmt: skip
    return Table(
        name="pin-table",
        heading="Pin table",
        more="pin numbers are the drawing's: check the part's own data sheet before inserting",
        columns=tuple(Column(name=n, width=w, right=n == "pin") for n, w in names),
        rows=rows,
        abreast=3,
    )


def _bill(robot: Robot, circuit: Circuit) -> Table:
    rows = tuple(
        (
            row.part,
            row.detail,
            plain(row.quantity, 2) + "\u202fm" if row.unit == "m" else plain(row.quantity, 0),
            "" if row.mass is None else with_unit(significant(1000.0 * row.mass), "g"),
            " ".join(row.designations),
        )
        for row in bill_of(circuit, robot)
    )
    names = (("part", 34.0), ("detail", 62.0), ("quantity", 18.0), ("mass", 18.0))
    columns = tuple(Column(name=n, width=w, right=n in {"quantity", "mass"}) for n, w in names)
    return Table(
        name="bill",
        heading="Parts",
        more="electrical; mass of wire reckoned from copper and insulation",
        columns=(*columns, Column(name="designations", width=125.0)),
        rows=rows,
    )


def _steps(steps: Sequence[Step]) -> Table:
    rows = tuple(
        (
            str(step.number), step.stage.value, step.what,
            step.start + (f" to {step.end}" if step.end else ""), _value(step.expected, step),
            _span(step), step.caution,
        )
        for step in steps
    )  # fmt: skip
    names = (
        ("step", 8.0), ("stage", 20.0), ("do", 88.0), ("measure", 42.0), ("expected", 19.0),
        ("between", 32.0), ("caution", 50.0),
    )  # fmt: skip
    return Table(
        name="tests",
        heading="Assembly and test",
        more="in this order; outside the bounds: stop and look",
        columns=tuple(Column(name=n, width=w, right=n in {"step", "expected"}) for n, w in names),
        rows=rows,
    )


def _value(value: float | None, step: Step) -> str:
    if value is None:
        return ""
    if step.unit == "Ω" and value < 1.0:
        return with_unit(significant(1000.0 * value), "mΩ")
    return with_unit(significant(value, 4), step.unit)


def _span(step: Step) -> str:
    if step.low is None or step.high is None:
        return "" if step.low is None else f"at least {_value(step.low, step)}"
    small = step.unit == "Ω" and step.high < 1.0
    low, high = ((1000.0 if small else 1.0) * each for each in (step.low, step.high))
    digits = 4 if step.unit == "V" else 3
    unit = "mΩ" if small else step.unit
    return f"{significant(low, digits)} to {with_unit(significant(high, digits), unit)}"
