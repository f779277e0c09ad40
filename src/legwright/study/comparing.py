"""Robots side by side: what each is, what it can do, and where it comes nearest to trouble."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.layout import ANGLE, COXA, FEMUR, TIBIA, X, Y, measures
from legwright.robot.robot import Robot
from legwright.study.evidence import Extent, Study
from legwright.study.finding import Finding, Verdict
from legwright.study.judge import overall

RANK = {Verdict.FAIL: 0, Verdict.WARN: 1, Verdict.UNKNOWN: 2, Verdict.PASS: 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One robot's entry in a row."""

    value: float | None = None
    """In the row's unit; None for words or where nothing is known."""
    words: str = ""
    """What stands instead of a number, or goes with it."""
    finding: Finding | None = None
    """The finding behind it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One figure of all robots."""

    group: str
    key: str
    """For programs: ``dimensions.femur``, ``worst.torque``."""
    label: str
    unit: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Comparison:
    """Robots side by side."""

    studies: tuple[Study, ...]
    rows: tuple[Row, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Of the robots."""
        return tuple(study.robot.name for study in self.studies)

    @property
    def failed(self) -> bool:
        """Whether a robot fails a requirement."""
        return any(overall(study.findings) is Verdict.FAIL for study in self.studies)


def comparison_of(studies: Sequence[Study]) -> Comparison:
    """Put checked robots side by side.

    Args:
        studies: One for each robot.

    Returns:
        The comparison; a row in which no robot has an entry is left out.

    Raises:
        RequestError: for fewer than two robots.
    """
    if len(studies) < 2:
        raise RequestError("robots", len(studies), "two or more to compare")
    rows = [*_build(studies), *_abilities(studies), *_margins(studies), *_worst(studies)]
    kept = [row for row in rows if any(c.value is not None or c.words for c in row.cells)]
    return Comparison(studies=tuple(studies), rows=tuple(kept))


def as_json(comparison: Comparison) -> dict[str, Any]:
    """A comparison as JSON-ready data; see docs/json.md."""
    return {
        "robots": [
            {
                "robot": study.robot.name,
                "source": str(study.robot.source),
                "overall": overall(study.findings).value,
                "counts": {
                    verdict.value: sum(f.verdict is verdict for f in study.findings)
                    for verdict in Verdict
                },
            }
            for study in comparison.studies
        ],
        "rows": [
            {
                "group": row.group, "key": row.key, "label": row.label, "unit": row.unit,
                "cells": [_cell_json(cell) for cell in row.cells],
            }
            for row in comparison.rows
        ],
    }  # fmt: skip


def _cell_json(cell: Cell) -> dict[str, Any]:
    known = cell.value is not None and isfinite(cell.value)
    told: dict[str, Any] = {"value": cell.value if known else None, "words": cell.words}
    if cell.finding is not None:
        one = cell.finding
        told |= {
            "verdict": one.verdict.value, "finding": one.name, "limit": one.limit,
            "margin": one.margin,
        }  # fmt: skip
    return told


def _row(
    studies: Sequence[Study], group: str, key: str, label: str, unit: str,
    cell: Callable[[Study], Cell],
) -> Row:  # fmt: skip
    cells = tuple(cell(study) for study in studies)
    return Row(group=group, key=key, label=label, unit=unit, cells=cells)


def _build(studies: Sequence[Study]) -> Iterable[Row]:
    """What each robot is."""
    yield _row(studies, "build", "legs", "legs", "",
               lambda s: Cell(value=float(len(s.robot.legs))))  # fmt: skip
    for column, key, label in (
        (X, "hip_x", "front hip, x"), (Y, "hip_y", "front hip, y"), (COXA, "coxa", "coxa"),
        (FEMUR, "femur", "femur"), (TIBIA, "tibia", "tibia"),
    ):  # fmt: skip
        yield _row(studies, "build", f"dimensions.{key}", label, "mm", _measure(column, 1e3))
    angle = _measure(ANGLE, 180.0 / np.pi)
    yield _row(studies, "build", "dimensions.hip_angle", "front hip, angle", "°", angle)
    yield _row(studies, "build", "stance.body_height", "body height, standing", "mm", _height)
    yield _row(studies, "build", "mass", "mass", "kg", lambda s: Cell(value=s.robot.mass))
    yield _row(studies, "build", "servos", "servos", "", lambda s: Cell(words=_servos(s.robot)))
    yield _row(studies, "build", "servos.stall_torque", "strongest servo, stall", "N·m", _stall)
    yield _row(studies, "build", "battery", "battery", "", lambda s: Cell(words=_battery(s.robot)))


def _height(study: Study) -> Cell:
    return Cell(value=None if study.footing is None else 1e3 * study.footing.height)


def _measure(column: int, factor: float) -> Callable[[Study], Cell]:
    """One measure of the front left leg."""

    def cell(study: Study) -> Cell:
        if study.footing is None:
            return Cell()
        leg = next(iter(study.robot.legs.values()))
        try:
            found = measures(leg, study.footing.q[study.robot.columns[leg.name]])
        except RequestError:  # a leg of another kind has no coxa, femur and tibia
            return Cell()
        return Cell(value=factor * float(found[column]))

    return cell


def _servos(robot: Robot) -> str:
    named = [servo.id for servo in robot.servos.values() if servo is not None]
    if any(name == "urdf" for name in named):
        return "from URDF limits"
    return ", ".join(f"{count} × {name}" for name, count in Counter(named).most_common())


def _stall(study: Study) -> Cell:
    found = [servo.stall_torque for servo in study.robot.servos.values() if servo is not None]
    return Cell(value=max(found) if found else None)


def _battery(robot: Robot) -> str:
    battery = robot.sheet.battery
    if battery is None:
        return ""
    return f"{battery.series} cells, {battery.capacity / 3600.0:.3g} A·h"


def _abilities(studies: Sequence[Study]) -> Iterable[Row]:
    """How far it goes."""
    for name, unit in (
        ("top speed forward", "m/s"), ("top speed sideways", "m/s"), ("top speed turning", "°/s"),
        ("largest payload", "kg"), ("steepest slope", "°"),
    ):  # fmt: skip
        key = "envelope." + name.replace(" ", "_")
        yield _row(studies, "abilities", key, name, unit, _extent(name))
    for name, unit, least in (("run time", "min", True), ("energy per metre", "J/m", True)):
        key = "energy." + name.replace(" ", "_")
        label = f"{name}, least" if least else name
        yield _row(studies, "abilities", key, label, unit, _least(name))


def _extent(name: str) -> Callable[[Study], Cell]:
    """The best gait's edge of the envelope."""

    def cell(study: Study) -> Cell:
        found: list[Extent] = [e for e in study.envelope if e.name == name and e.value is not None]
        if not found:
            return Cell()
        best = max(found, key=lambda extent: extent.value or 0.0)
        return Cell(value=best.value, words=best.gait)

    return cell


def _least(name: str) -> Callable[[Study], Cell]:
    """The least value of the findings whose name begins so."""

    def cell(study: Study) -> Cell:
        found = [
            f for f in study.findings
            if f.value is not None and f.name.partition(",")[0] == name
            and not f.name.endswith("standing") and not f.name.endswith("ranges")
        ]  # fmt: skip
        if not found:
            return Cell()
        worst = min(found, key=lambda finding: finding.value or 0.0)
        return Cell(value=worst.value, finding=worst if worst.limit is not None else None)

    return cell


def _margins(studies: Sequence[Study]) -> Iterable[Row]:
    """What is left."""
    for name, unit in (
        ("stability margin", "mm"), ("margin on slope", "mm"), ("reach reserve", "mm"),
        ("joint limits", "°"), ("link clearance", "mm"), ("ground clearance", "mm"),
    ):  # fmt: skip
        key = "margin." + name.replace(" ", "_")
        yield _row(studies, "margins", key, f"{name}, least", unit, _least(name))


def _worst(studies: Sequence[Study]) -> Iterable[Row]:
    """The finding of each area that comes nearest to trouble."""
    areas = dict.fromkeys(f.area for study in studies for f in study.findings)
    for area in areas:
        yield _row(studies, "worst of each area", f"worst.{area}", area, "", _worst_of(area))


def _worst_of(area: str) -> Callable[[Study], Cell]:
    def cell(study: Study) -> Cell:
        found = [finding for finding in study.findings if finding.area == area]
        if not found:
            return Cell()
        worst = min(found, key=_trouble)
        return Cell(value=worst.value, words=worst.name, finding=worst)

    return cell


def _trouble(finding: Finding) -> tuple[int, float]:
    """Worst verdict first, then the least margin as a share of the limit."""
    margin, limit = finding.margin, finding.limit
    share = np.inf
    if margin is not None and limit and abs(margin) > 1e-9 * abs(limit):
        share = margin / abs(limit)
    return RANK[finding.verdict], float(share)
