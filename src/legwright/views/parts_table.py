"""Plates, brackets and tolerances in the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from legwright.fabrication.step import INSTALL, kernel_installed
from legwright.study.finding import Verdict
from legwright.study.making import Making, plate_keys
from legwright.views.numbers import limit_text, plain, value_text
from legwright.views.ranking import area_title

if TYPE_CHECKING:
    from rich.console import RenderableType

WORDS = {Verdict.PASS: "pass", Verdict.WARN: "warn", Verdict.FAIL: "FAIL", Verdict.UNKNOWN: "?"}


def parts_table(making: Making) -> RenderableType:
    """How a robot is made, as tables.

    Args:
        making: How it is made.
    """
    from rich import box
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("part", "number", "sheet mm", "blank mm", "cut mm", "mass g"):
        table.add_column(name, justify="left" if name == "part" else "right", overflow="fold")
    for part in making.parts.made:
        blank = " × ".join(plain(side * 1e3, 1) for side in part.blank)
        table.add_row(
            f"{part.name}  {part.material}".rstrip(), str(part.count),
            f"{part.thickness * 1e3:g}", blank, plain(part.cut_length * 1e3, 0),
            plain(part.mass * 1e3, 1),
        )  # fmt: skip
    foot = making.parts.foot.part
    if foot is not None:
        size = plain(2e3 * foot.radius, 1)
        table.add_row(
            f"foot  {foot.material}".rstrip(), str(foot.count), "",
            f"{size} × {size} × {plain(1e3 * (foot.top + foot.radius), 1)}", "", "",
        )  # fmt: skip
    findings = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("", "requirement", "value", "limit"):
        findings.add_column(
            name, justify="right" if name in {"value", "limit"} else "left", overflow="fold"
        )
    for finding in making.findings:
        style = "red" if finding.verdict is Verdict.FAIL else ""
        findings.add_row(
            WORDS[finding.verdict], f"{area_title(finding.area)}: {finding.name}",
            value_text(finding), limit_text(finding), style=style,
        )  # fmt: skip
    lines = [Text(line) for line in _lines(making)]
    head = Text(f"{making.robot.name}: parts", style="bold")
    tables = [table] if making.parts.made or foot is not None else []
    return Group(head, *tables, findings, *lines)


def _lines(making: Making) -> Iterator[str]:
    for finding in making.findings:
        if finding.verdict in {Verdict.FAIL, Verdict.UNKNOWN}:
            yield f"{WORDS[finding.verdict]} {finding.name}: {finding.why} {finding.cure}".rstrip()
    yield from (f"Note: {note}" for note in making.parts.plates.notes)
    if making.parts.foot.trouble:
        yield f"No foot: {making.parts.foot.trouble}."
    if making.parts.foot.missing:
        yield f"No foot: fill in {', '.join(making.parts.foot.missing)}."
    if making.parts.plates.plates and making.robot.sheet.dimensions is not None:
        yield "To let the description use the plates as they are made, put into the sheet:"
        yield plate_keys(making.parts.plates.plates)
    if not kernel_installed():
        yield f"No STEP files: {INSTALL}"
    yield "Laser, press and drill: by those trained on them; sheet edges are sharp until broken."
