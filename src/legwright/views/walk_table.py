"""The scorecard in the terminal: the verdict first, red only for what misses its target."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from legwright.study.finding import Finding, Verdict
from legwright.study.scorecard import Line, Scorecard
from legwright.views.numbers import THIN, plain
from legwright.views.terminal import as_shown, shows_unicode

if TYPE_CHECKING:
    from rich.console import RenderableType


def walk_table(card: Scorecard, *, unicode: bool | None = None) -> RenderableType:
    """A scorecard for a terminal of 80 columns or more.

    Args:
        card: The scorecard.
        unicode: Whether the terminal shows more than ASCII; asked of standard output when None.

    Returns:
        Something that a rich console prints.
    """
    from rich import box
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    letters = shows_unicode(sys.stdout) if unicode is None else unicode
    head = Text(as_shown(f"{card.title}: ", letters), style="bold")
    missed = card.verdict is Verdict.FAIL
    head.append(as_shown(card.headline, letters), style="bold")
    count = Text(card.count[:1].upper() + card.count[1:], style="red" if missed else "")
    names = [("felt", any(line.felt is not None for line in card.lines))]
    names += [("worst", any(line.worst is not None for line in card.lines))]
    names += [("blind", any(line.blind is not None for line in card.lines))]
    columns = [name for name, shown in names if shown]
    table = Table(
        box=box.SIMPLE_HEAD if letters else box.ASCII2, show_edge=False, pad_edge=False,
        padding=(0, 1, 0, 0),
        header_style="",
    )  # fmt: skip
    table.add_column("", no_wrap=True)
    for name in columns:
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("unit", no_wrap=True)
    table.add_column("target", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    for line in card.lines:
        values = {"felt": line.felt, "worst": line.worst, "blind": line.blind}
        red = line.finding is not None and line.finding.verdict is Verdict.FAIL
        style = "red" if red else ""
        cells = [Text(as_shown(number(line, values[name]), letters)) for name in columns]
        if cells:
            cells[0].stylize(style)
        table.add_row(
            as_shown(line.measure.words, letters),
            *cells,
            as_shown(line.measure.unit, letters),
            as_shown(target(line), letters),
            Text(as_shown(met(line.finding), letters), style=style),
        )
    return Group(head, count, Text(), table)


def number(line: Line, value: float | None) -> str:
    """A value in the line's resolution, finer where it would read as its limit; a dash for None."""
    if value is None:
        return "–"
    decimals = line.measure.decimals
    limit = None if line.finding is None else line.finding.limit
    if limit is not None and plain(value, decimals) == plain(limit, decimals) and value != limit:
        decimals += 1
    return plain(value, decimals)


def target(line: Line) -> str:
    """The target of a line with its sense, ``≥ 99.5``; empty without one."""
    found = line.finding
    if found is None or found.limit is None:
        return ""
    decimals = max(line.measure.decimals, 1 if found.limit % 1.0 else 0)
    return f"{found.sense.value}{THIN}{plain(found.limit, decimals)}"


def met(finding: Finding | None) -> str:
    """Mark and word of a judged line, ``□ met`` or ``■ missed``; empty without a target."""
    if finding is None or finding.margin is None:
        return ""
    return "■ missed" if finding.verdict is Verdict.FAIL else "□ met"
