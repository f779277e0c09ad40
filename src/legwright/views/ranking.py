"""Order and count of findings: worst first, area by area, and the verdict of the whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from legwright.study.finding import Finding, Verdict

_ORDER = (Verdict.FAIL, Verdict.WARN, Verdict.UNKNOWN, Verdict.PASS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """The verdict of a whole check."""

    words: str
    verdict: Verdict
    """Whose limit mark stands beside the words."""
    count: str
    """``3 fail  4 warn  2 not known  of 42``"""


def stamp_of(findings: Sequence[Finding]) -> Stamp:
    """The verdict of a whole check: a fail decides, then what is not known, then a warning.

    Args:
        findings: All of them.

    Returns:
        The stamp.
    """
    return stamp_for([finding.verdict for finding in findings])


def stamp_for(verdicts: Sequence[Verdict]) -> Stamp:
    """The stamp of so many verdicts; see `stamp_of`."""
    fails, warns, unknown, _ = map(verdicts.count, _ORDER)
    if fails:
        words, verdict = "NOT FIT TO WALK", Verdict.FAIL
    elif unknown or not verdicts:
        words, verdict = "NOT PROVEN", Verdict.UNKNOWN
    elif warns:
        words, verdict = "FIT WITH CARE", Verdict.WARN
    else:
        words, verdict = "FIT TO WALK", Verdict.PASS
    named = ((fails, "fail"), (warns, "warn"), (unknown, "not known"))
    parts = [f"{count} {word}" for count, word in named if count]
    count = "  ".join([*parts, f"of {len(verdicts)}"]) if parts else f"{len(verdicts)} pass"
    return Stamp(words=words, verdict=verdict, count=count)


def excess(finding: Finding) -> float:
    """How far past its limit a value lies, in limits; negative inside, -inf where not known."""
    margin, limit = finding.margin, finding.limit
    if margin is None or limit is None:
        return -inf
    if limit == 0.0:  # a yes-or-no requirement: all inside or all outside
        return 1.0 if finding.verdict is Verdict.FAIL else -1.0
    return -margin / abs(limit)


def by_degrees(finding: Finding) -> bool:
    """Whether a finding is a matter of more or less, so that its margin says how near it is."""
    margin = finding.margin
    return bool(margin and finding.limit and abs(margin) > 1e-9 * abs(finding.limit))


def ranked(findings: Sequence[Finding]) -> list[Finding]:
    """Worst first: fails, warnings, not known, passes; inside each, nearest to trouble first."""
    return [
        finding
        for verdict in _ORDER
        for finding in sorted(
            (one for one in findings if one.verdict is verdict), key=excess, reverse=True
        )
    ]


def gathered(findings: Sequence[Finding]) -> list[Finding]:
    """Findings that wait for the same input told as one, at the place of the first.

    Args:
        findings: In any order.

    Returns:
        The same, but of those not known and with equal cures only the first, which names how
        many more there are.
    """
    waiting: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.verdict is Verdict.UNKNOWN and finding.cure:
            waiting.setdefault(finding.cure, []).append(finding)
    told = []
    for finding in findings:
        same = waiting.get(finding.cure, []) if finding.verdict is Verdict.UNKNOWN else []
        if len(same) < 2:
            told.append(finding)
        elif finding is same[0]:
            told.append(replace(finding, name=f"{finding.name} (and {len(same) - 1} more)"))
    return told


def by_area(findings: Sequence[Finding]) -> Mapping[str, list[Finding]]:
    """Area -> its findings, areas in order of first appearance."""
    areas: dict[str, list[Finding]] = {}
    for finding in findings:
        areas.setdefault(finding.area, []).append(finding)
    return areas


def area_title(area: str) -> str:
    """An area's name with a capital first letter."""
    return area[:1].upper() + area[1:].replace("_", " ")
