"""A study as the verdict that pages show, and the verdict before laid beside it."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import fields
from functools import lru_cache
from math import isfinite

from msgspec.structs import replace

from legwright.study.evidence import Extent, Study
from legwright.study.finding import Finding, Sense
from legwright.study.finding import Verdict as Word
from legwright.study.joint_table import JointUse, joint_table
from legwright.study.judge import judge
from legwright.views.desk.said import Area, Edge, Found, JointSum, Verdict
from legwright.views.numbers import limit_text, value_text
from legwright.views.ranking import area_title, ranked, stamp_for
from legwright.views.rows import summary_of

_PHASE = re.compile(r"\bphase (\d\.\d+)")
_ORDER = ("fail", "warn", "unknown", "pass")
_NUMBERS = tuple(part.name for part in fields(JointUse) if part.type == "float")
_KEY = re.compile(r"[a-z_]+(?:\.[A-Za-z0-9_*-]+)+|\b[a-z]+\b")


def verdict_of(study: Study, *, keys: Collection[str] = (), whole: bool = True) -> Verdict:
    """A study as a message; of no revision yet, and nothing before it.

    Args:
        study: What was found out.
        keys: Keys of the sheet that can be edited.
        whole: Whether nothing more is to come.
    """
    names, known = tuple(study.cases), frozenset(keys)
    found = [_found(finding, names, known) for finding in ranked(study.findings)]
    return _verdict(
        found, whole=whole, summary=summary_of(study),
        envelope=tuple(_edge(extent) for extent in study.envelope),
        joints=tuple(_sum(row) for row in joint_table(study.robot, study.cases)),
    )  # fmt: skip


def verdict_without_study(why: str) -> Verdict:
    """The verdict on a robot that cannot stand, so that there is nothing to study.

    Args:
        why: What is in the way and how to cure it.
    """
    finding = judge(
        "reach", "stands on its feet", 0.0, 1.0, "", sense=Sense.AT_LEAST, why=why,
        source="stance", cure="Change stance, dimensions or joint limits until every foot "
        "reaches the ground.",
    )  # fmt: skip
    return _verdict([_found(finding, (), frozenset())], whole=True, summary=why)


def verdict_not_found(why: str, cure: str) -> Verdict:
    """The verdict where a study came to no end.

    Args:
        why: What happened to it.
        cure: What to do.
    """
    finding = Finding(
        area="build", name="the check came to an end", verdict=Word.UNKNOWN, why=why, cure=cure,
        source="the desk",
    )  # fmt: skip
    return _verdict([_found(finding, (), frozenset())], whole=True, summary=why)


def filled(part: Verdict, last: Verdict | None) -> Verdict:
    """A verdict in the making, filled with what is still that of the robot before.

    Args:
        part: What is known so far.
        last: The whole verdict before; None where there is none.
    """
    if last is None:
        return part
    known = {finding.id for finding in part.findings}
    old = [replace(each, stale=True) for each in last.findings if each.id not in known]
    return _verdict([*part.findings, *old], whole=False, summary=part.summary, joints=part.joints)


def _verdict(
    found: Sequence[Found], *, whole: bool, summary: str, envelope: tuple[Edge, ...] = (),
    joints: tuple[JointSum, ...] = (),
) -> Verdict:  # fmt: skip
    order = sorted(found, key=lambda each: _ORDER.index(each.verdict))
    worth = sum(each.verdict != "pass" for each in order)
    numbered = [
        replace(each, number=at if at <= worth else 0) for at, each in enumerate(order, start=1)
    ]
    verdicts = [Word(each.verdict) for each in found]
    stamp = stamp_for(verdicts)
    areas: dict[str, list[Found]] = {}
    for each in numbered:
        areas.setdefault(each.area, []).append(each)
    return Verdict(
        rev=0,
        whole=whole,
        overall=stamp.verdict.value,
        stamp=stamp.words,
        summary=summary,
        counts={word.value: verdicts.count(word) for word in Word},
        was_stamp="",
        areas=tuple(
            Area(
                name=area,
                title=area_title(area),
                verdict=stamp_for([Word(each.verdict) for each in members]).verdict.value,
                findings=tuple(each.id for each in members),
            )
            for area, members in areas.items()
        ),
        findings=tuple(numbered),
        envelope=envelope,
        joints=joints,
        took=0.0,
    )


def against(verdict: Verdict, before: Verdict | None, *, rev: int, took: float) -> Verdict:
    """A verdict with the one before laid beside it.

    Args:
        verdict: The new one.
        before: On what lies under the edits; None where nothing does, or it is not known yet.
        rev: Revision of the robot.
        took: Since the edit [s].
    """
    if before is None:
        return replace(verdict, rev=rev, took=took)
    was = {finding.id: finding for finding in before.findings}
    edges = {(edge.name, edge.gait): edge.value for edge in before.envelope}
    return replace(
        verdict,
        rev=rev,
        took=took,
        was_stamp=before.stamp,
        findings=tuple(_beside(finding, was.get(finding.id)) for finding in verdict.findings),
        envelope=tuple(
            replace(edge, was=edges.get((edge.name, edge.gait))) for edge in verdict.envelope
        ),
    )


def _beside(finding: Found, before: Found | None) -> Found:
    if before is None:
        return finding
    same = before.shown == finding.shown and before.verdict == finding.verdict
    return replace(finding, was="" if same else before.shown, was_verdict=before.verdict)


@lru_cache(maxsize=1024)
def _found(finding: Finding, cases: tuple[str, ...], keys: frozenset[str]) -> Found:
    """A finding as a message; told part after part, and many outlast an edit."""
    case, phase = _instant(finding.why, cases)
    return Found(
        id=f"{finding.area}: {finding.name}",
        number=0,
        area=finding.area,
        name=finding.name,
        verdict=finding.verdict.value,
        value=_finite(finding.value),
        limit=_finite(finding.limit),
        unit=finding.unit,
        margin=_finite(finding.margin),
        sense=finding.sense.value,
        why=finding.why,
        cure=finding.cure,
        source=finding.source,
        parts=finding.parts,
        assumed=finding.assumed,
        shown=value_text(finding),
        bound=limit_text(finding),
        was="",
        was_verdict="",
        key=next((key for key in _keys_in(finding.source) if key in keys), ""),
        case=case,
        phase=phase,
        stale=False,
    )


@lru_cache(maxsize=512)
def _keys_in(source: str) -> tuple[str, ...]:
    """Words of a finding's source that could be keys of the sheet."""
    return tuple(_KEY.findall(source))


def _instant(why: str, cases: Collection[str]) -> tuple[str, float | None]:
    """The case and phase that a finding's words speak of."""
    named = [name for name in cases if name in why]
    phase = _PHASE.search(why)
    return max(named, key=len, default=""), float(phase[1]) if phase and named else None


def _edge(extent: Extent) -> Edge:
    return Edge(
        name=extent.name,
        gait=extent.gait,
        value=_finite(extent.value),
        unit=extent.unit,
        required=_finite(extent.required),
        stopped_by=extent.stopped_by,
        parts=extent.parts,
        was=None,
    )


def _sum(row: JointUse) -> JointSum:
    number = {name: _finite(getattr(row, name)) for name in _NUMBERS}
    return JointSum(joint=row.joint, servo=row.servo, **number)


def _finite(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)
