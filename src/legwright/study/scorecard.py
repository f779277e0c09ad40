"""The scorecard of a walk: what came out, felt beside blind, and whether the targets are met."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

Rows = Sequence[Mapping[str, Any]]

AREA = "walk"
RATED = 200.0
"""Control rate from which the contact targets hold [Hz]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One line of the scorecard."""

    key: str
    """Of a trial's row."""
    words: str
    unit: str
    """As people read it."""
    factor: float = 1.0
    """From SI to that unit."""
    offset: float = 0.0
    decimals: int = 0
    more_is_worse: bool = True


MEASURES = (
    Measure(key="distance", words="distance", unit="m", decimals=2, more_is_worse=False),
    Measure(key="speed", words="speed", unit="m/s", decimals=3, more_is_worse=False),
    Measure(key="path_error", words="beside the track", unit="mm", factor=1e3),
    Measure(key="odometry_error", words="odometry off by", unit="%", factor=100.0, decimals=1),
    Measure(key="slips_per_metre", words="slips", unit="/m", decimals=1),
    Measure(key="slips_missed", words="slips not told", unit="in all"),
    Measure(key="false_slips_per_100", words="false slips", unit="/100 stances", decimals=1),
    Measure(key="hit_rate", words="touch-downs felt", unit="%", factor=100.0, decimals=1,
            more_is_worse=False),
    Measure(key="false_per_100_steps", words="false alarms", unit="/100 steps", decimals=1),
    Measure(key="delay_median", words="delay, median", unit="ms", factor=1e3),
    Measure(key="delay_p95", words="delay, 95 %", unit="ms", factor=1e3),
    Measure(key="force_at_detection", words="force felt at, median", unit="% weight",
            factor=100.0, decimals=1),
    Measure(key="force_at_detection_p95", words="force felt at, 95 %", unit="% weight",
            factor=100.0, decimals=1),
    Measure(key="peak_force", words="peak foot force", unit="% weight", factor=100.0),
    Measure(key="worst_tilt", words="worst tilt", unit="deg", factor=180.0 / np.pi, decimals=1),
    Measure(key="unsupported", words="under 3 loaded feet", unit="% of time", factor=100.0,
            decimals=1),
    Measure(key="min_margin", words="smallest margin", unit="mm", factor=1e3,
            more_is_worse=False),
    Measure(key="energy_per_metre", words="energy", unit="J/m"),
    Measure(key="hottest", words="hottest winding", unit="°C", offset=-273.15),
    Measure(key="lowest_voltage", words="lowest voltage", unit="V", decimals=1,
            more_is_worse=False),
)  # fmt: skip
"""Lines of the scorecard, in order."""

LIMITS: Mapping[str, tuple[Sense, float]] = MappingProxyType(
    {
        "hit_rate": (Sense.AT_LEAST, 0.995),
        "false_per_100_steps": (Sense.AT_MOST, 1.0),
        "delay_median": (Sense.AT_MOST, 0.022),
        "delay_p95": (Sense.AT_MOST, 0.040),
        "force_at_detection": (Sense.AT_MOST, 0.15),
        "force_at_detection_p95": (Sense.AT_MOST, 0.20),
        "min_margin": (Sense.AT_LEAST, 0.0),
    }
)
"""Targets of a felt walk, SI: touch-downs scored from 8 % of body weight at 200 Hz."""

FLAT_LIMITS: Mapping[str, tuple[Sense, float]] = MappingProxyType(
    {"odometry_error": (Sense.AT_MOST, 0.05)}
)
"""Targets that hold on flat ground alone."""

SHARES: Mapping[str, float] = MappingProxyType(
    {"worst_tilt": 0.60, "peak_force": 0.70, "unsupported": 0.20}
)
"""On rough ground, how much of the blind walk's value the felt walk may have."""

CONTACT = ("hit_rate", "false_per_100_steps", "delay_median", "delay_p95", "force_at_detection",
           "force_at_detection_p95")  # fmt: skip
AS_FAR = 0.8
"""A blind walk that got less far than this share of the felt one is no yardstick."""
POOLED = ("hit_rate", "false_per_100_steps")
"""Rates: their mean over all steps is told, not the median over trials."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One measure over all trials, in the measure's own unit."""

    measure: Measure
    felt: float | None
    """Median; of rates the mean over all steps."""
    worst: float | None
    """The worst felt trial; None where there is but one."""
    blind: float | None
    finding: Finding | None
    """Whether the target is met; None where none is stated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scorecard:
    """All trials of one walk, weighed."""

    title: str
    """``rook, ripple on steps``"""
    headline: str
    """One sentence: who finished."""
    lines: tuple[Line, ...]
    findings: tuple[Finding, ...]
    """Every target, judged."""

    @property
    def verdict(self) -> Verdict:
        """Fail where a target is missed; unknown where none is stated."""
        if any(f.verdict is Verdict.FAIL for f in self.findings):
            return Verdict.FAIL
        known = [f for f in self.findings if f.verdict is not Verdict.UNKNOWN]
        return Verdict.PASS if known else Verdict.UNKNOWN

    @property
    def count(self) -> str:
        """How many targets are met, ``7 of 9 targets met``."""
        known = [f for f in self.findings if f.verdict is not Verdict.UNKNOWN]
        met = sum(f.verdict is not Verdict.FAIL for f in known)
        return f"{met} of {len(known)} targets met" if known else "no target stated"


def scorecard(rows: Rows, *, title: str, ground: str, rate: float) -> Scorecard:
    """Weigh trials.

    Args:
        rows: Trials as `walk_once` gives them; felt or blind or both.
        title: What was walked.
        ground: Name of the ground; ``flat`` has targets of its own.
        rate: Control steps per second [Hz].

    Returns:
        The scorecard.
    """
    felt, blind = ([row for row in rows if row["mode"] == mode] for mode in ("felt", "blind"))
    yardstick = blind if _as_far(felt, blind) else []
    lines = tuple(_line(measure, felt, blind, yardstick, ground, rate) for measure in MEASURES)
    findings = [line.finding for line in lines if line.finding is not None]
    done = [row for row in felt if not row.get("stopped")]
    if done:
        findings.insert(0, _finished(done))
    return Scorecard(
        title=title, headline=headline(felt, blind), lines=lines, findings=tuple(findings)
    )


def headline(felt: Rows, blind: Rows) -> str:
    """Who finished, in one sentence; and what kept them from walking as fast as asked.

    Args:
        felt: Trials that felt the ground.
        blind: Trials that did not.
    """
    told = [_told(rows, word) for rows, word in ((felt, "felt"), (blind, "blind")) if rows]
    slowed = [row for row in (*felt, *blind) if row.get("slowed")]
    why = ""
    if slowed:  # feet that feel their way down leave less time for the stride
        row = min(slowed, key=lambda row: float(row["slowed"]["share"]))
        asked, limit = row["asked_speed"], row["slowed"]["limit"]
        granted = float(row["slowed"]["share"]) * asked
        why = f" Asked for {asked:.2g} m/s; {limit} allows {granted:.2g}, before ground slows it."
    return f"finished {', '.join(told)}.{why}"


def _told(rows: Rows, word: str) -> str:
    finished, fell = (sum(bool(row[key]) for row in rows) for key in ("finished", "fell"))
    more = [f"{fell} fell"] if fell else []
    stopped = [row for row in rows if row.get("stopped")]
    if stopped:
        gone = " and ".join(f"{row['distance']:.2f} m" for row in stopped)
        more.append(f"{len(stopped)} stopped after {gone}")
    return f"{finished} of {len(rows)} {word}" + (f" ({', '.join(more)})" if more else "")


def _finished(felt: Rows) -> Finding:
    return judge(
        AREA, "felt walks that finish", float(sum(row["finished"] for row in felt)),
        float(len(felt)), "walks", sense=Sense.AT_LEAST, near=0.0,
        why=f"{sum(bool(row['fell']) for row in felt)} fell.", source="target of the walk",
    )  # fmt: skip


def _as_far(felt: Rows, blind: Rows) -> bool:
    """Whether the blind walks crossed about as much ground."""
    if not felt or not blind:
        return False
    here, there = (float(np.median([row["distance"] for row in rows])) for rows in (felt, blind))
    return there >= AS_FAR * here


def _line(
    measure: Measure, felt: Rows, blind: Rows, yardstick: Rows, ground: str, rate: float
) -> Line:
    here = _typical(measure, felt)
    return Line(
        measure=measure,
        felt=here,
        worst=_worst(measure, felt) if len(felt) > 1 else None,
        blind=_typical(measure, blind),
        finding=_finding(measure, here, _typical(measure, yardstick), ground, rate),
    )


def _values(measure: Measure, rows: Rows) -> list[float]:
    found = [row[measure.key] for row in rows]
    return [measure.factor * v + measure.offset for v in found if v is not None and np.isfinite(v)]


def _typical(measure: Measure, rows: Rows) -> float | None:
    values = _values(measure, rows)
    if not values:
        return None
    if measure.key in POOLED:
        steps = [max(row["steps"], 1) for row in rows if row[measure.key] is not None]
        return float(np.average(values, weights=steps))
    return float(np.median(values))


def _worst(measure: Measure, rows: Rows) -> float | None:
    values = _values(measure, rows)
    if not values:
        return None
    if measure.key == "odometry_error":
        return max(values, key=abs)
    return max(values) if measure.more_is_worse else min(values)


def _finding(
    measure: Measure, felt: float | None, blind: float | None, ground: str, rate: float
) -> Finding | None:
    if felt is None:
        return None
    key = measure.key
    limits = {**LIMITS, **(FLAT_LIMITS if ground == "flat" else {})}
    if key in limits and (rate >= RATED or key not in CONTACT):
        sense, limit = limits[key]
        value = abs(felt) if key == "odometry_error" else felt
        return judge(
            AREA, measure.words, value, measure.factor * limit, measure.unit, sense=sense,
            near=0.0, why="Over all felt walks.", source="target of the walk",
        )  # fmt: skip
    if key in SHARES and ground != "flat" and blind is not None and blind > 0.0:
        return judge(
            AREA, f"{measure.words} against blind", felt, SHARES[key] * blind, measure.unit,
            sense=Sense.AT_MOST, near=0.0, why=f"Blind on the same seeds: {blind:.3g}.",
            source=f"target: {100.0 * SHARES[key]:.0f} % of blind",
        )  # fmt: skip
    return None
