"""The verdict as a table in the terminal: quiet, worst first, red only for what fails."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, TextIO

from legwright.study.finding import Finding, Verdict
from legwright.views.numbers import limit_text, margin_text, value_text
from legwright.views.ranking import area_title, by_area, by_degrees, gathered, ranked, stamp_of

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table
    from rich.text import Text

    from legwright.study.evidence import Study

_MARKS: Mapping[Verdict, str] = {
    Verdict.PASS: "□",
    Verdict.WARN: "◧",
    Verdict.FAIL: "■",
    Verdict.UNKNOWN: "?",
}
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
    title.append(_said(f"{study.robot.name}: ", rich_letters), style="bold")
    red = "bold red" if stamp.verdict is Verdict.FAIL else "bold"
    title.append(stamp.words, style=red)
    title.append(f"  ({stamp.count})")
    shown = [f for f in ranked(study.findings) if all_rows or f.verdict is not Verdict.PASS]
    if not all_rows:
        shown = gathered(shown)
    parts: list[RenderableType] = [title, Text()]
    if shown:
        parts += [_table(shown, rich_letters), Text()]
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


def _said(words: str, rich_letters: bool) -> str:
    """Text as the terminal can show it, control characters taken out."""
    clean = "".join(char if char.isprintable() or char == "\u202f" else " " for char in words)
    if rich_letters:
        return clean.replace("\u202f", "\u00a0")
    for char, instead in _PLAIN.items():
        clean = clean.replace(char, instead)
    return clean.encode("ascii", "replace").decode("ascii")


def _table(findings: Sequence[Finding], rich_letters: bool) -> Table:
    from rich import box
    from rich.table import Table

    table = Table(
        box=box.SIMPLE_HEAD if rich_letters else box.ASCII2,
        show_edge=False,
        pad_edge=False,
        header_style="",
        padding=(0, 1),
    )
    table.add_column("", no_wrap=True)
    table.add_column("area", overflow="fold")
    table.add_column("requirement", ratio=1, overflow="fold")
    for name in ("value", "limit", "margin"):
        table.add_column(name, justify="right", no_wrap=False, overflow="fold")
    for finding in findings:
        _add(table, finding, rich_letters)
    return table


def _add(table: Table, finding: Finding, rich_letters: bool) -> None:
    style = "red" if finding.verdict is Verdict.FAIL else ""
    mark = f"{_MARKS[finding.verdict]} {_WORDS[finding.verdict]}"
    table.add_row(
        _styled(mark, style, rich_letters),
        _styled(finding.area, "", rich_letters),
        _requirement(finding, style, rich_letters),
        _styled("" if finding.value is None else value_text(finding), style, rich_letters),
        _styled(limit_text(finding), "", rich_letters),
        _styled(margin_text(finding), style, rich_letters),
    )


def _styled(words: str, style: str, rich_letters: bool) -> Text:
    from rich.text import Text

    return Text(_said(words, rich_letters), style=style)


def _requirement(finding: Finding, style: str, rich_letters: bool) -> Text:
    text = _styled(finding.name, style, rich_letters)
    if finding.verdict is Verdict.PASS:
        return text
    if finding.why:
        text.append("\n" + _said(finding.why, rich_letters), style="dim")
    if finding.cure:
        text.append("\n" + _said("→ " + finding.cure, rich_letters), style="not dim")
    return text


def _passes(findings: Sequence[Finding], rich_letters: bool) -> list[RenderableType]:
    """One line an area: how many pass, and which comes nearest to its limit."""
    lines: list[RenderableType] = []
    for area, members in by_area(findings).items():
        passes = [f for f in ranked(members) if f.verdict is Verdict.PASS]
        if not passes:
            continue
        nearest = next((f for f in passes if by_degrees(f)), None)
        words = f"{_MARKS[Verdict.PASS]} {area_title(area)}: {len(passes)} pass"
        if nearest is not None:
            words += f"; nearest {nearest.name}: {value_text(nearest)}, {limit_text(nearest)}"
        lines.append(_styled(words, "", rich_letters))
    return lines
