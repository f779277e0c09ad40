"""The sheets of a robot's shells as files: each as SVG, and all in one page."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from legwright.study.evidence import Study
from legwright.views.frame import TitleBlock
from legwright.views.report import hashes_of, inputs_of
from legwright.views.sheet_files import sheet_svg, sheets_html
from legwright.views.shell_sheets import shell_sheets

PAGE = "shells.html"


def write_shells(study: Study, folder: Path, *, issued: date | None = None) -> list[Path]:
    """Write drawings of all shells into a folder, which is made when missing.

    Args:
        study: What the check found.
        folder: Where to.
        issued: Date of issue.

    Returns:
        The files.

    Raises:
        OSError: if they cannot be written.
    """
    robot = study.robot
    meshes = dict.fromkeys(entry.mesh for entry in robot.sheet.shell.values() if entry.mesh)
    made = [robot.source.parent / mesh for mesh in meshes]
    block = TitleBlock(
        title=robot.name,
        owner=robot.sheet.owner,
        identification=robot.sheet.identification,
        revision=robot.sheet.revision,
        issued="" if issued is None else issued.isoformat(),
        made_from=tuple(hashes_of([*inputs_of(study), *made])),
        reference="fabrication",
        document="Part drawing",
    )
    sheets = shell_sheets(study)
    texts = {PAGE: sheets_html(sheets, block, heading=f"{robot.name}: shells")}
    for number, sheet in enumerate(sheets, start=1):
        texts[f"{sheet.name}.svg"] = sheet_svg(sheet, block, number=number, count=len(sheets))
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in texts.items():
        path = folder / name
        path.write_bytes(text.encode("utf-8"))
        written.append(path)
    return written
