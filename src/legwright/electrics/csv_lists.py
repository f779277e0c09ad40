"""The assembler's lists as CSV text, RFC 4180: header, comma, CRLF, quotes where needed."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from io import StringIO

from legwright.electrics.bill import BillRow, bill_of
from legwright.electrics.bring_up import Step, bring_up
from legwright.electrics.circuit import Circuit
from legwright.electrics.cut_list import CutRow, cut_list, wire_totals
from legwright.electrics.pin_table import PinRow, pin_table
from legwright.electrics.wire_list import WireRow, wire_list
from legwright.robot.robot import Robot

Cell = str | int | float | None


def csv_text(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """One table as CSV.

    Args:
        header: Names of the columns.
        rows: Cells; None is written empty. Text that a spreadsheet would take for a formula
            (it starts with ``=``, ``@``, tab or carriage return) gets an apostrophe in front;
            designations such as ``-W3`` and nets such as ``+F1`` stay as they are.

    Returns:
        Text with CRLF line ends.

    Source: RFC 4180.
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([_cell(cell) for cell in row])
    return out.getvalue()


def _cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.6g}"
    text = str(cell)
    return "'" + text if text[:1] in {"=", "@", "\t", "\r"} else text


def csv_files(circuit: Circuit, robot: Robot) -> Mapping[str, str]:
    """All lists by file name.

    Args:
        circuit: The circuit.
        robot: Its robot.

    Returns:
        ``wires.csv``, ``cuts.csv``, ``pins.csv``, ``bom.csv``, ``tests.csv`` -> text.
    """
    bus = robot.sheet.bus.kind if robot.sheet.bus else ""
    wires = wire_list(circuit, bus=bus)
    return {
        "wires.csv": _wires(wires),
        "cuts.csv": _cuts(cut_list(wires)),
        "pins.csv": _pins(pin_table(circuit, bus=bus)),
        "bom.csv": _bill(bill_of(circuit, robot)),
        "tests.csv": _tests(bring_up(circuit, robot)),
    }


def _mm(length: float | None) -> float | None:
    return None if length is None else round(1000.0 * length, 1)


def _wires(rows: Sequence[WireRow]) -> str:
    header = (
        "wire", "cable", "net", "colour", "size", "insulation", "length_mm", "length_from",
        "from_device", "from_connector", "from_pin", "from_terminal",
        "to_device", "to_connector", "to_pin", "to_terminal",
    )  # fmt: skip
    return csv_text(
        header,
        [
            (
                row.name, row.cable, row.net, row.colour, row.size, row.insulation,
                _mm(row.length), row.origin.value if row.origin else None,
                row.start.device, row.start.connector, row.start.pin or None, row.start.terminal,
                row.end.device, row.end.connector, row.end.pin or None, row.end.terminal,
            )
            for row in rows
        ],
    )  # fmt: skip


def _cuts(rows: Sequence[CutRow]) -> str:
    header = ("kind", "size", "insulation", "colour", "length_mm", "count", "total_m", "wires")
    cuts: list[Sequence[Cell]] = []
    for row in rows:
        total = None if row.length is None else row.count * row.length
        names = " ".join(row.wires)
        cuts.append(
            ("cut", row.size, row.insulation, row.colour, _mm(row.length), row.count, total, names)
        )
    for sum_ in wire_totals(rows):
        note = f"{sum_.unknown} of unknown length left out" if sum_.unknown else ""
        kind = (sum_.size, sum_.insulation, sum_.colour)
        cuts.append(("total", *kind, None, sum_.count, sum_.length, note))
    return csv_text(header, cuts)


def _pins(rows: Sequence[PinRow]) -> str:
    header = ("connector", "kind", "plugged_into", "pin", "net", "colour", "wire")
    return csv_text(
        header,
        [
            (row.connector, row.kind, row.device, row.pin or None, row.net, row.colour, row.wire)
            for row in rows
        ],
    )


def _bill(rows: Sequence[BillRow]) -> str:
    header = ("part", "detail", "quantity", "unit", "mass_g", "designations", "sheet_key")
    return csv_text(
        header,
        [
            (
                row.part,
                row.detail,
                row.quantity,
                row.unit,
                None if row.mass is None else round(1000.0 * row.mass, 2),
                " ".join(row.designations),
                row.place,
            )
            for row in rows
        ],
    )


def _tests(rows: Sequence[Step]) -> str:
    header = (
        "step", "stage", "what", "from", "to", "quantity", "unit", "expected", "low", "high",
        "caution",
    )  # fmt: skip
    return csv_text(
        header,
        [
            (
                row.number, row.stage.value, row.what, row.start, row.end, row.quantity, row.unit,
                row.expected, row.low, row.high, row.caution,
            )
            for row in rows
        ],
    )  # fmt: skip
