"""The verdict as a table in the terminal: quiet, worst first, red only for what fails."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, TextIO

from legwright.study.finding import Finding, Verdict
from legwright.views.numbers import limit_text, margin_text, value_text
from legwright.views.ranking import area_title, by_area, by_degrees, gathered, ranked, stamp_of

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table
    from rich.text import Text

    from legwright.study.evidence import Study

MARKS: Mapping[Verdict, str] = {
    Verdict.PASS: "□",
    Verdict.WARN: "◧",
    Verdict.FAIL: "■",
    Verdict.UNKNOWN: "?",
}
"""A limit mark as one letter."""
_WORDS: Mapping[Verdict, str] = {
    Verdict.PASS: "pass",
    Verdict.WARN: "warn",
    Verdict.FAIL: "FAIL",
    Verdict.UNKNOWN: "not known",
}
_PLAIN = {
    "≤": "<=",
    "≥": ">=",
    "−": "-",
    "·": "*",
    "×": "x",
    "°": "deg ",
    "²": "2",
    "³": "3",
    "\u202f": " ",
    "\u00a0": " ",
    "–": "-",
    "—": "-",
    "μ": "u",
    "µ": "u",
    "Ω": "ohm",
    "±": "+-",
    "β": "beta",
    "φ": "phi",
    "→": "->",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "∞": "inf",
    "√": "sqrt",
    "□": "o",
    "◧": "!",
    "■": "X",
    "½": "1/2",
    "λ": "lambda",
    "π": "pi",
}


def verdict_table(
    study: Study, *, all_rows: bool = False, unicode: bool | None = None
) -> RenderableType:
    """What a check found, for a terminal of 80 columns or more.

    Args:
        study: The check.
        all_rows: Whether every pass gets its row, instead of one line an area.
        unicode: Whether the terminal shows more than ASCII; asked of standard output when
            None.

    Returns:
        Something that a rich console prints.
    """
    from rich.console import Group
    from rich.text import Text

    rich_letters = shows_unicode(sys.stdout) if unicode is None else unicode
    stamp = stamp_of(study.findings)
    title = Text()
    title.append(as_shown(f"{study.robot.name}: ", rich_letters), style="bold")
    red = "bold red" if stamp.verdict is Verdict.FAIL else "bold"
    title.append(stamp.words, style=red)
    title.append(f"  ({stamp.count})")
    shown = [f for f in ranked(study.findings) if all_rows or f.verdict is not Verdict.PASS]
    if not all_rows:
        shown = gathered(shown)
    parts: list[RenderableType] = [title, Text()]
    if shown:
        parts += [_head(rich_letters), *_rows(shown, rich_letters), Text()]
    if not all_rows:
        parts += _passes(study.findings, rich_letters)
    return Group(*parts)


def shows_unicode(stream: TextIO) -> bool:
    """Whether a stream can carry the marks and units.

    Args:
        stream: Where the table goes.

    Returns:
        True when its encoding has the characters.
    """
    encoding = getattr(stream, "encoding", None) or "ascii"
    try:
        "≤ − □ ◧ ■ ·\u202f".encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def as_shown(words: str, rich_letters: bool) -> str:
    """Text as the terminal can show it, control characters taken out."""
    clean = "".join(char if char.isprintable() or char == "\u202f" else " " for char in words)
    if rich_letters:
        return clean.replace("\u202f", "\u00a0")
    for char, instead in _PLAIN.items():
        clean = clean.replace(char, instead)
    return clean.encode("ascii", "replace").decode("ascii")


_WIDTHS = {"": 11, "value": 12, "limit": 13, "margin": 9}
"""Characters of the columns beside the requirement."""

_INDENT = 12
"""Of the sentences under a row."""


def _grid() -> Table:
    """An empty row; equal widths make separate rows line up."""
    from rich.table import Table

    grid = Table.grid(expand=True, padding=(0, 1, 0, 0))
    grid.add_column(width=_WIDTHS[""], no_wrap=True)
    grid.add_column(ratio=1, overflow="fold")
    for name in ("value", "limit", "margin"):
        grid.add_column(width=_WIDTHS[name], justify="right", overflow="fold")
    return grid


def _head(rich_letters: bool) -> RenderableType:
    from rich.console import Group
    from rich.rule import Rule

    grid = _grid()
    grid.add_row("", "requirement", "value", "limit", "margin")
    return Group(grid, Rule(characters="─" if rich_letters else "-", style=""))


def _rows(findings: Sequence[Finding], rich_letters: bool) -> Iterator[RenderableType]:
    """A row for each finding; under it, where it did not pass, why and the cure."""
    from rich.padding import Padding

    for finding in findings:
        style = "red" if finding.verdict is Verdict.FAIL else ""
        mark = f"{MARKS[finding.verdict]} {_WORDS[finding.verdict]}"
        grid = _grid()
        grid.add_row(
            _styled(mark, style, rich_letters),
            _styled(f"{area_title(finding.area)}: {finding.name}", style, rich_letters),
            _styled("" if finding.value is None else value_text(finding), style, rich_letters),
            _styled(limit_text(finding), "", rich_letters),
            _styled(margin_text(finding), style, rich_letters),
        )
        yield grid
        if finding.verdict is Verdict.PASS:
            continue
        if finding.why:
            yield Padding(_styled(finding.why, "dim", rich_letters), (0, 0, 0, _INDENT))
        if finding.cure:
            cure = _styled("→ " + finding.cure, "", rich_letters)
            yield Padding(cure, (0, 0, 0, _INDENT))


def _styled(words: str, style: str, rich_letters: bool) -> Text:
    from rich.text import Text

    return Text(as_shown(words, rich_letters), style=style)


def _passes(findings: Sequence[Finding], rich_letters: bool) -> list[RenderableType]:
    """One line an area: how many pass, and which comes nearest to its limit."""
    lines: list[RenderableType] = []
    for area, members in by_area(findings).items():
        passes = [f for f in ranked(members) if f.verdict is Verdict.PASS]
        if not passes:
            continue
        nearest = next((f for f in passes if by_degrees(f)), None)
        words = f"{MARKS[Verdict.PASS]} {area_title(area)}: {len(passes)} pass"
        if nearest is not None:
            words += f"; nearest {nearest.name}: {value_text(nearest)}, {limit_text(nearest)}"
        lines.append(_styled(words, "", rich_letters))
    return lines
