"""A layout in round dimensions, or today's, as a sheet and as files."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from legwright.fabrication.moving import rebuilt
from legwright.locomotion.stance import footing
from legwright.robot.robot import Robot
from legwright.study.on_grid import SAME, OnGrid
from legwright.study.rounding import Candidate, Rounding
from legwright.views.frame import TitleBlock
from legwright.views.layout_drawing import Row, layout_ink
from legwright.views.report import hashes_of
from legwright.views.rounding_table import value_words
from legwright.views.sheet_files import sheet_svg, sheets_html
from legwright.views.wide_sheet import WideSheet

PAGE, PICTURE = "layout.html", "layout.svg"
NOTES = (
    "Dimensions in millimetres, from axis to axis; foot: centre of its ball.",
    "The right side mirrors the left; heights, of the femur axes over the body frame, as listed.",
    "Walking robots pinch and fall: first steps on a stand.",
)


def layout_sheet(rounding: Rounding, best: Candidate, robot: Robot) -> WideSheet:
    """One landscape sheet of a layout in round dimensions.

    Args:
        rounding: The search that it comes from.
        best: The layout.
        robot: The robot with that layout.

    Returns:
        The sheet.
    """
    stand = footing(robot)
    rows = []
    for each, value in zip(rounding.free.dimensions, best.values, strict=True):
        grid = rounding.grids.get(each.key) or rounding.grids.get(each.key.split(".")[0])
        rows.append(
            Row(
                key=each.key,
                values=(each.today, float(value)),
                words=("", "pinned" if each.pinned else (grid.words if grid else "")),
                strong=abs(value - each.today) > SAME,
            )
        )
    ink = layout_ink(robot, stand.q, best.legs, stand.height, ("today", "round", "", "grid"), rows)
    return WideSheet(
        name="layout", subtitle="layout in round dimensions", drawing=ink.finish(), notes=NOTES
    )


def todays_sheet(found: OnGrid) -> WideSheet:
    """One landscape sheet of the layout as it is, with the round values beside it.

    Args:
        found: The dimensions and what lies next to them.

    Returns:
        The sheet.
    """
    rows = [
        Row(
            key=one.key,
            values=(one.today, one.nearest),
            words=(
                "" if one.off is None or abs(one.off) <= SAME else _signed(one.key, one.off),
                one.grid or "pinned",
            ),
            strong=one.off is not None and abs(one.off) > SAME,
        )
        for one in found.dimensions
    ]
    heads = ("today", "nearest round", "off by", "grid")
    stand = found.footing
    ink = layout_ink(found.robot, stand.q, found.layout.values, stand.height, heads, rows)
    notes = (*NOTES[:2], "legwright round says what each rounding costs.", NOTES[2])
    return WideSheet(name="layout", subtitle="layout", drawing=ink.finish(), notes=notes)


def _signed(key: str, value: float) -> str:
    return ("+" if value > 0.0 else "") + value_words(key, value)


def write_layout(
    rounding: Rounding, best: Candidate, robot: Robot, folder: Path, *, issued: date | None = None
) -> tuple[Path, ...]:
    """Write the drawing of a layout as SVG and as a page.

    Args:
        rounding: The search that it comes from.
        best: The layout.
        robot: The robot with that layout.
        folder: Where to.
        issued: Date of issue.

    Returns:
        The files.

    Raises:
        OSError: if they cannot be written.
    """
    sheet, own = layout_sheet(rounding, best, robot), robot.sheet
    block = TitleBlock(
        title=robot.name,
        owner=own.owner,
        identification=own.identification,
        revision=own.revision,
        issued="" if issued is None else issued.isoformat(),
        made_from=tuple(hashes_of([robot.source])),
        reference="fabrication",
        document="Layout drawing",
    )
    texts = {
        PICTURE: sheet_svg(sheet, block, number=1, count=1),
        PAGE: sheets_html([sheet], block, heading=f"{robot.name}: layout"),
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return tuple(folder / name for name in texts)


def robot_of(rounding: Rounding, best: Candidate) -> Robot:
    """The robot with a candidate's layout, not written anywhere."""
    return rebuilt(rounding.robot, best.legs, rounding.free.layout.values)
