"""The report: one HTML file that needs nothing else, on screen and on paper."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from datetime import date
from html import unescape
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from legwright.views import tokens
from legwright.views.fonts import font_face_rules
from legwright.views.frame import TitleBlock, frame, title_block
from legwright.views.ranking import stamp_of
from legwright.views.sheet_section import section
from legwright.views.sheets import pages_of
from legwright.views.wide_sheet import WideSheet

if TYPE_CHECKING:
    from legwright.study.evidence import Study

FILE_NAME = "report.html"
CAUTIONS = (
    "The tool advises; it does not certify. It judges a model; the machine may differ.",
    "First power-up: robot on a stand, feet in the air, current-limited supply.",
    "Hands clear of moving legs; a stop within reach of whoever watches.",
    "Lithium cells are never left unattended while charging and never used below cut-off.",
    "No light flashes between 3 and 30 Hz.",
    "Wiring and charging follow local codes and are done by qualified people.",
)


def report_html(
    study: Study,
    *,
    issued: date | None = None,
    made_from: Sequence[str] = (),
    font_cache: Path | None = None,
) -> str:
    """The report as one HTML document.

    Args:
        study: What the check found.
        issued: Date of issue; "not stated" when None.
        made_from: Input files with their hashes, as the title block shows them.
        font_cache: Folder for finished font subsets; the user's cache folder when None.

    Returns:
        HTML without any outside address or script.
    """
    from jinja2 import Environment, StrictUndefined

    room = files("legwright.views") / "templates"
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["loose"] = _breakable
    template = environment.from_string((room / "report.html.j2").read_text("utf-8"))
    style = (room / "sheet.css").read_text("utf-8")
    block = title_block_of(study, issued=issued, made_from=made_from)
    pages = pages_of(study)
    wide = (*wiring_sheets_of(study), *making_sheets_of(study), *_shell_sheets(study))
    count = len(pages) + len(wide)
    blocks = [
        title_block(block, subtitle=page.subtitle, sheet=number, sheets=count).svg
        for number, page in enumerate(pages, start=1)
    ]
    body = template.render(
        name=study.robot.name,
        stamp=stamp_of(study.findings),
        pages=pages,
        frame=frame().svg,
        blocks=blocks,
        cautions=CAUTIONS,
        style="@@STYLE@@",
    )
    sections = "".join(
        section(sheet, block, number=number, count=count)
        for number, sheet in enumerate(wide, start=len(pages) + 1)
    )
    body = body.replace("</body>", sections + "</body>", 1)
    text = unescape(re.sub(r"<[^>]*>", " ", body))
    css = font_face_rules(text, cache=font_cache) + themed(style)
    return body.replace("@@STYLE@@", css, 1)


def wiring_sheets_of(study: Study) -> tuple[WideSheet, ...]:
    """Schematic and harness drawing of a study; none where it knows no circuit.

    Args:
        study: What the check found.
    """
    if study.circuit is None:
        return ()
    from legwright.electrics.readings import idle_readings, worst_readings
    from legwright.views.harness_drawing import harness_drawing
    from legwright.views.schematic import schematic

    robot, circuit = study.robot, study.circuit
    readings = worst_readings(study.supplies) or idle_readings(circuit, robot)
    return (*schematic(robot, circuit, readings), *harness_drawing(robot, circuit))


def making_sheets_of(study: Study) -> tuple[WideSheet, ...]:
    """Drawings of plates, bracket and tolerances; none where they were not judged.

    Args:
        study: What the check found.
    """
    if not any(finding.area in {"tolerance", "plates", "brackets"} for finding in study.findings):
        return ()
    from legwright.study.making import making_of
    from legwright.views.making_sheets import making_sheets

    return making_sheets(making_of(study.robot, study.footing, study.cases))


def _shell_sheets(study: Study) -> tuple[WideSheet, ...]:
    """Drawings of the shells; none where the sheet names none."""
    if not any(finding.area == "shell" for finding in study.findings):
        return ()
    from legwright.views.shell_sheets import shell_sheets

    return shell_sheets(study)


def _breakable(words: str) -> object:
    """Escaped text that may break inside sheet keys, after a full stop or underscore."""
    from markupsafe import Markup, escape

    return Markup("<wbr>").join(escape(part) for part in re.split(r"(?<=[._])(?=[A-Za-z])", words))


def themed(style: str) -> str:
    """The style sheet with its colours and its lengths in sheet millimetres filled in.

    Args:
        style: CSS in which ``12mu`` means 12 mm of the sheet.

    Returns:
        CSS.
    """
    light, dark = tokens.css_variables(tokens.LIGHT), tokens.css_variables(tokens.DARK)
    filled = style.replace("/*light*/", light).replace("/*dark*/", dark)
    filled = filled.replace("/*lettering*/", tokens.LETTERING_STACK)
    filled = filled.replace("/*text*/", tokens.TEXT_STACK)
    return re.sub(r"(-?[\d.]+)mu\b", r"calc(var(--mm)*\1)", filled)


def title_block_of(
    study: Study, *, issued: date | None = None, made_from: Sequence[str] = ()
) -> TitleBlock:
    """The title block of a study.

    Args:
        study: What the check found.
        issued: Date of issue.
        made_from: Input files with their hashes.

    Returns:
        The title block.
    """
    sheet = study.robot.sheet
    return TitleBlock(
        title=study.robot.name,
        owner=sheet.owner,
        identification=sheet.identification,
        revision=sheet.revision,
        issued="" if issued is None else issued.isoformat(),
        made_from=tuple(made_from),
    )


def write_report(study: Study, folder: Path, *, issued: date | None = None) -> Path:
    """Write the report into a folder, which is made when missing.

    Args:
        study: What the check found.
        folder: Where to.
        issued: Date of issue.

    Returns:
        The file.

    Raises:
        OSError: if it cannot be written.
    """
    page = report_html(study, issued=issued, made_from=hashes_of(inputs_of(study)))
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE_NAME
    path.write_text(page, encoding="utf-8")
    return path


def inputs_of(study: Study) -> list[Path]:
    """The files that the robot was read from."""
    robot = study.robot
    found = [robot.source]
    if robot.sheet.urdf:
        found.append(robot.source.parent / robot.sheet.urdf)
    return found


def hashes_of(paths: Sequence[Path]) -> list[str]:
    """``rook.urdf 8f3a·21c9`` for each file; files that cannot be read are left out.

    Args:
        paths: The files.

    Returns:
        Name and the first eight digits of the SHA-256.
    """
    lines = []
    for path in paths:
        try:
            digest = hashlib.sha256(path.read_bytes()).hexdigest()
        except OSError:
            continue
        lines.append(f"{path.name} {digest[:4]}·{digest[4:8]}")
    return lines
