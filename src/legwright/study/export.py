"""Findings as plain data, the shape promised for ``--json``."""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import Any

from legwright.study.evidence import Study
from legwright.study.finding import Finding, Verdict
from legwright.study.joint_table import joint_table
from legwright.study.judge import overall


def as_json(study: Study) -> dict[str, Any]:
    """A check as JSON-ready data.

    Args:
        study: What a check found out.

    Returns:
        ``{"robot", "verdict": "pass|fail", "overall", "mass", "findings": […], "envelope": […],
        "joints": […], "notes": […]}``; SI in ``joints``. A number that is not finite becomes
        None: no bound, or not known.
    """
    failed = any(finding.verdict is Verdict.FAIL for finding in study.findings)
    return {
        "robot": study.robot.name,
        "verdict": "fail" if failed else "pass",
        "overall": overall(study.findings).value,
        "mass": study.robot.mass,
        "findings": [finding_as_json(finding) for finding in study.findings],
        "envelope": [
            {
                "name": extent.name,
                "gait": extent.gait,
                "value": _finite(extent.value),
                "unit": extent.unit,
                "required": _finite(extent.required),
                "stopped_by": extent.stopped_by,
                "parts": list(extent.parts),
            }
            for extent in study.envelope
        ],
        "joints": [
            {
                key: value if isinstance(value, str) else _finite(value)
                for key, value in asdict(use).items()
            }
            for use in joint_table(study.robot, study.cases)
        ],
        "notes": list(study.robot.notes),
    }


def finding_as_json(finding: Finding) -> dict[str, Any]:
    """One finding as JSON-ready data."""
    return {
        "area": finding.area,
        "name": finding.name,
        "value": _finite(finding.value),
        "limit": _finite(finding.limit),
        "unit": finding.unit,
        "sense": finding.sense.value,
        "margin": _finite(finding.margin),
        "verdict": finding.verdict.value,
        "why": finding.why,
        "source": finding.source,
        "cure": finding.cure,
        "parts": list(finding.parts),
        "assumed": finding.assumed,
    }


def _finite(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)
