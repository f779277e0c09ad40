"""A finding: one requirement, judged, with its evidence."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum


class Verdict(Enum):
    """How a requirement fared."""

    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"
    UNKNOWN = "unknown"


class Sense(Enum):
    """On which side of the limit the value must lie."""

    AT_MOST = "≤"
    AT_LEAST = "≥"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One requirement in words, its value and limit, the verdict and why."""

    area: str
    """Which question of the job it answers: reach, balance, torque, heat, clash, …"""
    name: str
    """The requirement in words, unique within one check: ``femur peak torque, tripod``."""
    verdict: Verdict
    value: float | None = None
    """What is so, in `unit`; None when not known."""
    limit: float | None = None
    """What is allowed, in `unit`; None when there is no limit to state."""
    unit: str = ""
    """Unit of value, limit and margin, as people write it: mm, N·m, °C, s."""
    sense: Sense = Sense.AT_MOST
    why: str = ""
    """What leads to the value: joint, leg, instant, cause. One or two sentences."""
    source: str = ""
    """Where the rule or the limit comes from: a sheet key, a standard, a paper."""
    cure: str = ""
    """What would change the verdict, with a computed number; empty for a pass."""
    parts: tuple[str, ...] = field(default=())
    """Names of the joints, legs or links it speaks of."""
    assumed: bool = False
    """True when the value rests on an assumption rather than on the sheet."""

    @property
    def margin(self) -> float | None:
        """Distance to the limit in `unit`, positive on the allowed side."""
        if self.value is None or self.limit is None:
            return None
        gap = self.limit - self.value
        return gap if self.sense is Sense.AT_MOST else -gap
