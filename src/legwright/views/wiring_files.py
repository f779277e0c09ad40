"""The assembler's documents as files: drawings, lists, and all sheets in one page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from legwright.electrics.csv_lists import csv_files
from legwright.study.wiring import Wiring
from legwright.views.frame import TitleBlock
from legwright.views.harness_drawing import harness_drawing
from legwright.views.list_sheets import list_sheets
from legwright.views.report import hashes_of, inputs_of
from legwright.views.schematic import schematic
from legwright.views.sheet_files import sheet_svg, sheets_html
from legwright.views.wide_sheet import WideSheet

PAGE = "wiring.html"


def wiring_sheets(wiring: Wiring) -> tuple[tuple[WideSheet, ...], tuple[WideSheet, ...]]:
    """Drawings, and lists, as sheets.

    Args:
        wiring: The wiring.
    """
    robot, circuit = wiring.robot, wiring.circuit
    drawings = (*schematic(robot, circuit, wiring.readings), *harness_drawing(robot, circuit))
    return drawings, list_sheets(robot, circuit)


def block_of(wiring: Wiring, *, issued: date | None = None) -> TitleBlock:
    """The title block of the wiring's sheets.

    Args:
        wiring: The wiring.
        issued: Date of issue.
    """
    sheet = wiring.robot.sheet
    made = hashes_of(inputs_of(wiring.study))
    return TitleBlock(
        title=wiring.robot.name,
        owner=sheet.owner,
        identification=sheet.identification,
        revision=sheet.revision,
        issued="" if issued is None else issued.isoformat(),
        made_from=(*made, "chosen sizes") if wiring.choice else tuple(made),
        reference="electrics",
        document="Wiring drawing",
    )


def write_wiring(wiring: Wiring, folder: Path, *, issued: date | None = None) -> Sequence[Path]:
    """Write everything into a folder, which is made when missing.

    Args:
        wiring: The wiring.
        folder: Where to.
        issued: Date of issue.

    Returns:
        The files: the page, the drawings, the lists.

    Raises:
        OSError: if they cannot be written.
    """
    drawings, lists = wiring_sheets(wiring)
    sheets, block = (*drawings, *lists), block_of(wiring, issued=issued)
    heading = f"{wiring.robot.name}: wiring"
    texts = {PAGE: sheets_html(sheets, block, heading=heading)}
    for number, sheet in enumerate(drawings, start=1):
        svg = sheet_svg(sheet, block, number=number, count=len(sheets))
        texts[f"{sheet.name}.svg"] = svg
    texts |= csv_files(wiring.circuit, wiring.robot)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in texts.items():
        path = folder / name
        path.write_bytes(text.encode("utf-8"))
        written.append(path)
    return written
