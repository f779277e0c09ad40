"""A search for round layouts as JSON."""

from __future__ import annotations

from math import isfinite
from typing import Any

from legwright.fabrication.dimensions import Dimension
from legwright.fabrication.layout import KINDS
from legwright.robot.tree import Floats
from legwright.study.rounding import CRITERIA, Candidate, Rounding, by_key, demands


def rounding_as_json(rounding: Rounding) -> dict[str, Any]:
    """The ranked layouts with their scores, SI units; see docs/json.md.

    Args:
        rounding: The search.
    """
    found = rounding.found
    need = demands(rounding.robot, rounding.asked, rounding.cases, rounding.inertia)
    return {
        "robot": rounding.robot.name,
        "dimensions": [_dimension(each, rounding) for each in rounding.free.dimensions],
        "today": _candidate(rounding, rounding.today),
        "candidates": [
            {"rank": rank, **_candidate(rounding, each)}
            for rank, each in enumerate(rounding.shortlist, start=1)
        ],
        "prices": [
            {
                "key": price.key, "before": price.before, "after": price.after,
                "loss": _number(price.loss), "scores": _scores(price.scores),
            }
            for price in rounding.prices
        ],
        "demands": {
            name: _number(value) for name, value in zip(CRITERIA, need, strict=False)
        },
        "weights": rounding.robot.sheet.rounding.weights.model_dump(),
        "search": {
            "layouts": found.size, "looked_at": found.tried, "proved": found.proved,
            "seconds": found.seconds,
        },
        "inertia": rounding.inertia._asdict(),
        "notes": list(rounding.notes),
    }  # fmt: skip


def _dimension(one: Dimension, rounding: Rounding) -> dict[str, Any]:
    kind = one.key.split(".")[0]
    grid = rounding.grids.get(one.key) or rounding.grids.get(kind)
    return {
        "key": one.key,
        "unit": "rad" if one.angle else "m",
        "today": one.today,
        "values": list(one.values),
        "grid": None if one.pinned or grid is None else grid.words,
        "pinned": one.pinned,
    }


def _candidate(rounding: Rounding, one: Candidate) -> dict[str, Any]:
    return {
        "values": by_key(rounding, one.values),
        "legs": {
            name: dict(zip(KINDS, map(float, row), strict=True))
            for name, row in zip(rounding.robot.legs, one.legs, strict=True)
        },
        "scores": _scores(one.scores),
        "loss": _number(one.loss),
        "nearness": one.nearness,
        "broken": list(one.broken),
    }


def _scores(row: Floats) -> dict[str, float | None]:
    names = (*CRITERIA, "joint_gap")
    return {name: _number(value) for name, value in zip(names, row, strict=True)}


def _number(value: float) -> float | None:
    return float(value) if isfinite(value) else None
