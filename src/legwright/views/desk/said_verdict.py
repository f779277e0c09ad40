"""What the desk tells of the verdict, whole or in the making."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from legwright.views.desk.telling import Said, Word


class Checking(Said, frozen=True, kw_only=True, tag="checking"):
    """A verdict is being worked out; the last one stands until then."""

    rev: int
    area: str
    done: int
    of: int


class Found(Struct, frozen=True, kw_only=True):
    """One finding."""

    id: str
    """Stays the same while the robot is edited."""
    number: int
    """Of its balloon, 1 for the worst; 0 for a pass."""
    area: str
    name: str
    verdict: Word
    value: float | None
    limit: float | None
    unit: str
    margin: float | None
    sense: str
    """≤ or ≥"""
    why: str
    cure: str
    source: str
    parts: tuple[str, ...]
    """Joints, legs, links, designations."""
    assumed: bool
    shown: str
    """Value as the sheets write it, rounded against the robot."""
    bound: str
    """Limit with its sense, likewise."""
    was: str
    """Value before, as `shown`; empty where it is the same or was not judged."""
    was_verdict: Word | Literal[""]
    key: str
    """Of the sheet, where `source` names one that can be edited; empty otherwise."""
    case: str
    """Case of its worst instant, where it has one; empty otherwise."""
    phase: float | None
    """Of that instant, share of the cycle."""
    stale: bool
    """True while it is still of the robot before the change, and worked out anew."""


class Area(Struct, frozen=True, kw_only=True):
    """One area of the verdict."""

    name: str
    title: str
    verdict: Word
    findings: tuple[str, ...]
    """Ids, worst first."""


class Edge(Struct, frozen=True, kw_only=True):
    """One edge of the envelope."""

    name: str
    gait: str
    value: float | None
    unit: str
    required: float | None
    stopped_by: str
    parts: tuple[str, ...]
    was: float | None
    """Before."""


class JointSum(Struct, frozen=True, kw_only=True):
    """The hardest that one joint is used over everything that was walked."""

    joint: str
    servo: str
    torque: float | None
    """[N·m]"""
    rms_torque: float | None
    speed: float | None
    """[rad/s]"""
    headroom: float | None
    winding: float | None
    """[K]"""
    time_to_limit: float | None
    """[s]; null: never, or not known."""


class Verdict(Said, frozen=True, kw_only=True, tag="verdict"):
    """The whole verdict on a revision."""

    rev: int
    whole: bool
    """False while a part is still worked out; then it comes again. What is not new yet is
    marked `Found.stale`; envelope and joints are empty until they are known."""
    overall: Word
    stamp: str
    """FIT TO WALK, FIT WITH CARE, NOT FIT TO WALK, NOT PROVEN."""
    summary: str
    """In a sentence or two."""
    counts: dict[str, int]
    was_stamp: str
    """Before; empty where it is not known yet."""
    areas: tuple[Area, ...]
    findings: tuple[Found, ...]
    """Worst first."""
    envelope: tuple[Edge, ...]
    joints: tuple[JointSum, ...]
    took: float
    """Since the edit [s]."""


class Looked(Said, frozen=True, kw_only=True, tag="looked"):
    """Answers `look`: where a finding is worst."""

    n: int
    finding: str
    case: str
    phase: float | None
    parts: tuple[str, ...]
