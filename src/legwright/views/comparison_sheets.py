"""Robots side by side on landscape sheets: limit marks, figures, the worst of each area."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from legwright.study.comparing import Cell, Comparison, Row
from legwright.study.finding import Verdict
from legwright.views import tokens
from legwright.views.comparison_table import cell_words, judged_words
from legwright.views.frame import TitleBlock
from legwright.views.ink import Ink
from legwright.views.lettering import Face, width
from legwright.views.ranking import stamp_of
from legwright.views.report import CAUTIONS, hashes_of
from legwright.views.sheet_files import sheets_html
from legwright.views.symbols import limit_mark, title
from legwright.views.wide_sheet import ROOM, WideSheet

ABREAST = 5
"""Robots on one sheet."""
LABELS = 46.0
"""Width of the labels [mm]."""
TOP, LINE, TALL = 25.0, 3.85, 6.6
"""First row, height of a row, height of a row with a finding's name [mm]."""


def comparison_sheets(comparison: Comparison) -> tuple[WideSheet, ...]:
    """The robots, five abreast.

    Args:
        comparison: The robots.

    Returns:
        Sheets.
    """
    found: list[WideSheet] = []
    count = len(comparison.names)
    for first in range(0, count, ABREAST):
        chosen = range(first, min(first + ABREAST, count))
        for rows in _dealt(comparison.rows):
            found.append(_sheet(comparison, rows, list(chosen), len(found) + 1))
    return tuple(found)


def comparison_html(
    comparison: Comparison, *, issued: date | None = None, font_cache: Path | None = None
) -> str:
    """The robots as one page that needs nothing else.

    Args:
        comparison: The robots.
        issued: Date of issue.
        font_cache: Folder for finished font subsets.

    Returns:
        HTML.
    """
    names = ", ".join(comparison.names)
    owners = {study.robot.sheet.owner for study in comparison.studies}
    sources = [study.robot.source for study in comparison.studies]
    block = TitleBlock(
        title="Side by side",
        owner=owners.pop() if len(owners) == 1 else "",
        issued="" if issued is None else issued.isoformat(),
        made_from=tuple(hashes_of(sources)),
        document="Comparison",
    )
    return sheets_html(
        comparison_sheets(comparison), block, heading=f"{names}: side by side",
        font_cache=font_cache,
    )  # fmt: skip


def _height(row: Row) -> float:
    return TALL if row.group.startswith("worst") else LINE


def _dealt(rows: Sequence[Row]) -> list[list[Row]]:
    """Rows by sheet; a group that does not fit begins on the next."""
    room = ROOM[1] - TOP - 3.0
    pages: list[list[Row]] = [[]]
    used, group = 0.0, ""
    for row in rows:
        more = _height(row) + (6.0 if row.group != group else 0.0)
        rest = sum(_height(each) for each in rows if each.group == row.group) + 6.0
        whole = row.group != group and used + rest > room and rest <= room
        if pages[-1] and (used + more > room or whole):
            pages.append([])
            used, more = 0.0, _height(row) + 6.0
        pages[-1].append(row)
        used, group = used + more, row.group
    return pages


def _sheet(
    comparison: Comparison, rows: Sequence[Row], chosen: Sequence[int], number: int
) -> WideSheet:
    names = [comparison.names[k] for k in chosen]
    ink = Ink(*ROOM, about=f"{', '.join(names)} side by side")
    title(ink, "Side by side", "the worst gait counts where a row says least")
    wide = (ROOM[0] - LABELS - 8.0) / max(len(chosen), 3)
    for place, k in enumerate(chosen):
        _head(ink, comparison, k, LABELS + 8.0 + wide * place, wide)
    y, group = TOP, ""
    for row in rows:
        if row.group != group:
            group = row.group
            y += 6.0
            ink.text(4.0, y - 1.6, group, size=tokens.SMALL, face=Face.LETTER_STRONG)
            ink.line(4.0, y, ROOM[0] - 4.0, y)
        base = y + 2.9
        ink.text(4.0, base, row.label, face=Face.LETTER)
        for place, k in enumerate(chosen):
            _cell(ink, row, row.cells[k], LABELS + 8.0 + wide * place, base, wide)
        y += _height(row)
        ink.line(4.0, y, ROOM[0] - 4.0, y, weight=tokens.FINE, stroke="hair")
    return WideSheet(
        name=f"comparison-{number}",
        subtitle=", ".join(names),
        drawing=ink.finish(),
        notes=CAUTIONS[:3],
    )


def _head(ink: Ink, comparison: Comparison, k: int, x: float, wide: float) -> None:
    """Name, limit mark and stamp of one robot."""
    study = comparison.studies[k]
    stamp = stamp_of(study.findings)
    red = stamp.verdict is Verdict.FAIL
    limit_mark(ink, x, 11.0, 5.0, stamp.verdict)
    ink.text(x + 11.0, 14.0, _cut(study.robot.name, tokens.BODY, wide - 12.0),
             size=tokens.BODY, face=Face.LETTER_STRONG)  # fmt: skip
    ink.text(x + 11.0, 18.6, stamp.words, size=tokens.TINY, face=Face.LETTER_STRONG,
             colour="red" if red else "ink")  # fmt: skip
    ink.text(x + 11.0, 22.4, _cut(stamp.count, tokens.TINY, wide - 12.0), face=Face.LETTER,
             colour="ink2")  # fmt: skip


def _cell(ink: Ink, row: Row, cell: Cell, x: float, base: float, wide: float) -> None:
    finding = cell.finding
    if finding is None:
        words = cell_words(row, cell)
        ink.text(x + 11.0, base, _cut(words, tokens.TINY, wide - 12.0))
        return
    red = finding.verdict is Verdict.FAIL
    limit_mark(ink, x + (0.0 if red else 1.0), base - 2.3, 2.4, finding.verdict)
    worst = row.group.startswith("worst")
    words = judged_words(finding) if worst else cell_words(row, cell)
    ink.text(x + 11.0, base, _cut(words, tokens.TINY, wide - 12.0), colour="red" if red else "ink")
    if worst:
        ink.text(x + 11.0, base + 3.1, _cut(finding.name, tokens.TINY, wide - 12.0),
                 face=Face.LETTER, colour="ink2")  # fmt: skip


def _cut(words: str, size: float, room: float) -> str:
    """Words that fit, their end cut off where they do not."""
    if width(words, size) <= room:
        return words
    while words and width(words + "…", size) > room:
        words = words[:-1]
    return words.rstrip() + "…"
