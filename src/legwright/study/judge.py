"""The one place where a value meets its limit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import isfinite, isnan

from legwright.study.finding import Finding, Sense, Verdict

NEAR = 0.10
"""A value closer to its limit than this share of the limit is a warning; common practice, no
published source."""


def judge(
    area: str,
    name: str,
    value: float | None,
    limit: float | None,
    unit: str,
    *,
    sense: Sense,
    why: str,
    source: str,
    cure: str | Callable[[], str] = "",
    parts: Sequence[str] = (),
    assumed: bool = False,
    near: float | None = None,
    missing: str = "",
) -> Finding:
    """Compare a value with its limit.

    Args:
        area: Question of the job that it answers.
        name: The requirement in words.
        value: What is so; None or nan when it cannot be known, inf where nothing bounds it.
        limit: What is allowed, same unit; None when nobody has said.
        unit: Unit of both, as people write it.
        sense: Side of the limit on which the value must lie.
        why: What leads to the value.
        source: Where the rule or the limit comes from.
        cure: What would change the verdict, or what finds it; kept, and asked, only when it did
            not pass.
        parts: Joints, legs or links it speaks of.
        assumed: True when the value rests on an assumption.
        near: Distance from the limit, same unit, below which a pass becomes a warning;
            `NEAR` of the limit when None.
        missing: What to enter when value or limit is not known.

    Returns:
        The finding; *unknown* when value or limit is missing.
    """
    if value is not None and isnan(value):
        value = None
    if limit is not None and not isfinite(limit):
        limit = None
    if value is None or limit is None:
        return Finding(
            area=area,
            name=name,
            verdict=Verdict.UNKNOWN,
            value=value,
            limit=limit,
            unit=unit,
            sense=sense,
            why=why,
            source=source,
            cure=missing,
            parts=tuple(parts),
            assumed=assumed,
        )
    gap = (limit - value) if sense is Sense.AT_MOST else (value - limit)
    band = NEAR * abs(limit) if near is None else near
    hair = 1e-9 * max(1.0, abs(limit))  # rounding must not turn an exact hit into a failure
    if gap < -hair:
        verdict = Verdict.FAIL
    elif gap < band - hair:
        verdict = Verdict.WARN
    else:
        verdict = Verdict.PASS
    return Finding(
        area=area,
        name=name,
        verdict=verdict,
        value=value,
        limit=limit,
        unit=unit,
        sense=sense,
        why=why,
        source=source,
        cure="" if verdict is Verdict.PASS else cure if isinstance(cure, str) else cure(),
        parts=tuple(parts),
        assumed=assumed,
    )


def overall(findings: Sequence[Finding]) -> Verdict:
    """The verdict on the whole robot.

    Args:
        findings: All findings of one check.

    Returns:
        The worst of fail, warn and pass; *unknown* when nothing failed but something is not
        known.
    """
    seen = {finding.verdict for finding in findings}
    for verdict in (Verdict.FAIL, Verdict.UNKNOWN, Verdict.WARN):
        if verdict in seen:
            return verdict
    return Verdict.PASS if findings else Verdict.UNKNOWN
