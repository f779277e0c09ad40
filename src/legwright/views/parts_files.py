"""The workshop's documents as files: cutting files, tables, drawings and one page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from legwright.fabrication.parts import part_files
from legwright.study.making import Making, plate_keys
from legwright.views.frame import TitleBlock
from legwright.views.making_sheets import making_sheets
from legwright.views.report import hashes_of
from legwright.views.sheet_files import sheet_svg, sheets_html

PAGE = "parts.html"


def block_of(making: Making, *, issued: date | None = None) -> TitleBlock:
    """The title block of the workshop's drawings.

    Args:
        making: How the robot is made.
        issued: Date of issue.
    """
    robot, sheet = making.robot, making.robot.sheet
    inputs = [robot.source, *([robot.source.parent / sheet.urdf] if sheet.urdf else [])]
    return TitleBlock(
        title=robot.name,
        owner=sheet.owner,
        identification=sheet.identification,
        revision=sheet.revision,
        issued="" if issued is None else issued.isoformat(),
        made_from=tuple(hashes_of(inputs)),
        reference="fabrication",
        document="Part drawing",
    )


def write_parts(making: Making, folder: Path, *, issued: date | None = None) -> Sequence[Path]:
    """Write everything into a folder, which is made when missing.

    Args:
        making: How the robot is made.
        folder: Where to.
        issued: Date of issue.

    Returns:
        The files: the page, the drawings, the cutting files and tables.

    Raises:
        OSError: if they cannot be written.
        RequestError: where a part is too fine for the beam.
    """
    sheets, block = making_sheets(making), block_of(making, issued=issued)
    files: dict[str, bytes] = {}
    if sheets:
        heading = f"{making.robot.name}: parts"
        files[PAGE] = sheets_html(sheets, block, heading=heading).encode("utf-8")
    for number, sheet in enumerate(sheets, start=1):
        svg = sheet_svg(sheet, block, number=number, count=len(sheets))
        files[f"{sheet.name}.svg"] = svg.encode("utf-8")
    files |= part_files(making.parts)
    if making.parts.plates.plates and making.robot.sheet.dimensions is not None:
        files["plates.toml"] = plate_keys(making.parts.plates.plates).encode("utf-8")
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, content in files.items():
        path = folder / name
        path.write_bytes(content)
        written.append(path)
    return written
