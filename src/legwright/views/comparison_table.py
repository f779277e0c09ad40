"""Robots side by side in the terminal: the verdict first, then what differs."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from legwright.study.comparing import Cell, Comparison, Row
from legwright.study.finding import Finding, Verdict
from legwright.views.numbers import limit_text, significant, value_text, with_unit
from legwright.views.plain_table import plain_table
from legwright.views.ranking import stamp_of
from legwright.views.terminal import MARKS, as_shown, shows_unicode

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


LABELS, COLUMN = 28, 15
"""Characters that the labels take, and a robot's column at least."""


def comparison_table(
    comparison: Comparison, *, unicode: bool | None = None, width: int | None = None
) -> RenderableType:
    """Robots side by side; in several tables where one would be too wide.

    Args:
        comparison: The robots.
        unicode: Whether the terminal shows more than ASCII; asked of standard output when None.
        width: Characters in a line; one table, however wide, when None.

    Returns:
        Something that a rich console prints.
    """
    from rich.console import Group

    letters = shows_unicode(sys.stdout) if unicode is None else unicode
    count = len(comparison.studies)
    fitting = count if width is None else max((width - LABELS) // COLUMN, 1)
    tables = -(-count // fitting)
    spans = [slice(count * n // tables, count * (n + 1) // tables) for n in range(tables)]
    shown = [_table(comparison, span, unicode=letters) for span in spans]
    return Group(*(part for table in shown for part in (table, ""))) if tables > 1 else shown[0]


def _table(comparison: Comparison, shown: slice, *, unicode: bool) -> Table:
    """Some of the robots."""
    from rich.text import Text

    def text(words: str, style: str = "") -> Text:
        return Text(as_shown(words, unicode), style=style)

    table = plain_table(["", *comparison.names[shown]], unicode=unicode, fold=True)
    stamps = [stamp_of(study.findings) for study in comparison.studies[shown]]
    red = ["bold red" if stamp.verdict is Verdict.FAIL else "bold" for stamp in stamps]
    table.add_row(
        text("verdict", "bold"),
        *(
            text(f"{MARKS[stamp.verdict]} {stamp.words}", style)
            for stamp, style in zip(stamps, red, strict=True)
        ),
    )
    table.add_row(text(""), *(text(stamp.count, "dim") for stamp in stamps))
    group = ""
    for row in comparison.rows:
        if row.group != group:
            group = row.group
            table.add_row("")
            table.add_row(text(group, "dim"))
        table.add_row(
            text(row.label),
            *(text(cell_words(row, cell), _style(cell)) for cell in row.cells[shown]),
        )
    return table


def _style(cell: Cell) -> str:
    return "red" if cell.finding is not None and cell.finding.verdict is Verdict.FAIL else ""


def cell_words(row: Row, cell: Cell) -> str:
    """A cell in words: value with unit; of a finding also its mark and limit.

    Args:
        row: The row.
        cell: One of its cells.
    """
    if cell.finding is not None:
        if not row.group.startswith("worst"):
            return value_text(cell.finding)
        return " ".join(
            part for part in (MARKS[cell.finding.verdict], judged_words(cell.finding)) if part
        )
    if cell.value is None:
        return cell.words or "–"
    words = with_unit(significant(cell.value), row.unit)
    return f"{words} {cell.words}" if cell.words else words


def judged_words(finding: Finding) -> str:
    """A finding's value and limit, the unit once: ``23 ≥ 8 mm``.

    Args:
        finding: The finding.
    """
    if finding.value is None:
        return limit_text(finding)
    if finding.limit is None:
        return value_text(finding)
    return f"{value_text(finding, unit=False)} {limit_text(finding)}"
