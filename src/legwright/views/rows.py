"""Rows of the report's tables, with the heights that their text needs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from legwright.study.finding import Finding, Verdict
from legwright.views import tokens
from legwright.views.gauge import gauge
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face, wrap
from legwright.views.numbers import limit_text, margin_text, value_text
from legwright.views.ranking import area_title, by_area, by_degrees, ranked
from legwright.views.symbols import WORDS, balloon, mark

if TYPE_CHECKING:
    from legwright.study.evidence import Study

WHY_WIDTH, CURE_WIDTH, NAME_WIDTH, SOURCE_WIDTH = 58.0, 34.0, 60.0, 29.5
"""Room for text in the columns [mm]."""
LINE = tokens.FINDING_TEXT * tokens.LEADING


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingRow:
    """One finding with gauge and cure."""

    number: Drawing
    area: str
    name: str
    why: str
    gauge: Drawing
    cure: str
    zone: str
    height: float
    """[mm]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailRow:
    """One line of the list of all findings, or an area's heading."""

    heading: str = ""
    mark: Drawing | None = None
    word: str = ""
    name: str = ""
    value: str = ""
    limit: str = ""
    margin: str = ""
    source: str = ""
    red: bool = False
    height: float = 6.0
    """[mm]"""


def heights(numbered: Sequence[tuple[int, Finding]]) -> list[float]:
    """Height of each finding's row [mm]."""
    return [_height(finding) for _, finding in numbered]


def _height(finding: Finding) -> float:
    name = wrap(_sentence(finding.name), tokens.FINDING_TEXT, WHY_WIDTH * 0.95, Face.TEXT_STRONG)
    why = wrap(_loose(finding.why), tokens.FINDING_TEXT, WHY_WIDTH * 0.95, Face.TEXT)
    cure = wrap(_loose(finding.cure), tokens.FINDING_TEXT, CURE_WIDTH * 0.95, Face.TEXT)
    lines = max(len(name) + (len(why) if finding.why else 0), len(cure))
    return max(14.6, lines * LINE + 4.0)


def finding_rows(
    numbered: Sequence[tuple[int, Finding]], zones: Mapping[int, str]
) -> list[FindingRow]:
    """Rows of the worst-first table.

    Args:
        numbered: Findings with their numbers; 0 for no number.
        zones: Finding number -> zone of its balloon.

    Returns:
        One row each.
    """
    return [
        FindingRow(
            number=_number(number, finding.verdict),
            area=area_title(finding.area),
            name=_sentence(finding.name),
            why=finding.why,
            gauge=gauge(finding, height=_height(finding) - 0.2),
            cure=finding.cure,
            zone=zones.get(number, ""),
            height=_height(finding),
        )
        for number, finding in numbered
    ]


def _number(number: int, verdict: Verdict) -> Drawing:
    if not number:
        return mark(verdict, 3.6)
    ink = Ink(5.0, 5.0, about=f"Finding {number}, {WORDS[verdict]}")
    balloon(ink, 2.5, 2.5, number, verdict)
    return ink.finish()


def _sentence(words: str) -> str:
    text = words[:1].upper() + words[1:]
    return text if text.endswith((".", "!", "?")) else text + "."


def detail_rows(findings: Sequence[Finding]) -> list[DetailRow]:
    """All findings, area by area, worst first inside each."""
    rows = []
    for area, members in by_area(findings).items():
        rows.append(DetailRow(heading=area_title(area), height=8.4))
        rows += [_detail(finding) for finding in ranked(members)]
    return rows


def _loose(words: str) -> str:
    """Words as they may break on the page: sheet keys also after a full stop or underscore."""
    return re.sub(r"(?<=[._])(?=[A-Za-z])", " ", words)


def _detail(finding: Finding) -> DetailRow:
    name = wrap(finding.name, tokens.FINDING_TEXT, NAME_WIDTH * 0.95, Face.TEXT)
    source = wrap(_loose(finding.source), tokens.TINY, SOURCE_WIDTH, Face.LETTER)
    tall = max(len(name) * LINE, len(source) * tokens.TINY * 1.25)
    return DetailRow(
        mark=mark(finding.verdict, 2.6),
        word=WORDS[finding.verdict],
        name=finding.name,
        value=value_text(finding) if finding.value is not None else "",
        limit=limit_text(finding),
        margin=margin_text(finding),
        source=finding.source,
        red=finding.verdict is Verdict.FAIL,
        height=tall + 1.8,
    )


def summary_of(study: Study) -> str:
    """The check in three sentences: how many fail, which is worst, what cures it."""
    findings = study.findings
    order = ranked(findings)
    worst = [f for f in order if f.verdict is not Verdict.PASS]
    fails = sum(f.verdict is Verdict.FAIL for f in findings)
    unknown = sum(f.verdict is Verdict.UNKNOWN for f in findings)
    if not findings:
        return "Nothing was judged."
    if not worst:
        near = next((f for f in order if by_degrees(f)), None)
        tail = (
            ""
            if near is None
            else (
                f" Nearest to its limit: {near.name}, {value_text(near)} with {limit_text(near)}."
            )
        )
        return f"Every one of {len(findings)} requirements is met.{tail}"
    top = worst[0]
    numbers = f", {value_text(top)} with {limit_text(top)}" if top.margin is not None else ""
    count = (
        f"{fails} of {len(findings)} requirements fail. The worst: "
        if fails
        else "Nothing fails, but not everything is known. First to settle: "
        if unknown
        else "Nothing fails; some requirements are near their limit. Nearest: "
    )
    cure = f" {_sentence(top.cure)}" if top.cure else ""
    return _short(f"{count}{top.name}{numbers}.{cure}")


def _short(words: str, lines: int = 7) -> str:
    """A summary that fits its place, cut at a word."""
    broken = wrap(words, 4.4, 76.0, Face.TEXT)
    return words if len(broken) <= lines else " ".join(broken[:lines]).rstrip(" .,") + " …"
