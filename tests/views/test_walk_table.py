"""The scorecard in the terminal: 80 columns, plain ASCII where need be, no value like its limit."""

from __future__ import annotations

from io import StringIO
from typing import Any

import pytest
from rich.console import Console

from legwright.study.scorecard import Scorecard, scorecard
from legwright.views.walk_table import number, walk_table

ROW: dict[str, Any] = {
    "seed": 0, "mode": "felt", "finished": True, "fell": False, "distance": 3.0,
    "path_error": 0.01, "speed": 0.05, "hit_rate": 0.931, "false_per_100_steps": 24.3,
    "delay_median": 0.0225, "delay_p95": 0.065, "force_at_detection": 0.1,
    "force_at_detection_p95": 0.15, "min_margin": 0.05, "energy_per_metre": 1983.0,
    "hottest": 320.0, "lowest_voltage": 12.0, "odometry_error": -0.02, "slips_per_metre": 15.3,
    "slips_missed": 0, "false_slips_per_100": 0.0,
    "peak_force": 18.78, "worst_tilt": 0.05, "unsupported": 0.01, "steps": 100,
}  # fmt: skip


@pytest.fixture
def card() -> Scorecard:
    rows = [ROW, ROW | {"seed": 1}, ROW | {"mode": "blind", "hit_rate": None}]
    return scorecard(rows, title="rook, ripple on steps", ground="steps", rate=200.0)


def printed(card: Scorecard, unicode: bool) -> str:
    console = Console(file=StringIO(), width=80, highlight=False)
    console.print(walk_table(card, unicode=unicode))
    told = console.file.getvalue()  # type: ignore[attr-defined]
    return str(told)


@pytest.mark.parametrize("unicode", [True, False])
def test_all_of_it_fits_80_columns(card: Scorecard, unicode: bool) -> None:
    told = printed(card, unicode)
    assert max(len(line) for line in told.splitlines()) <= 80
    assert "…" not in told
    assert told.startswith("rook, ripple on steps: finished 2 of 2 felt, 1 of 1 blind.")
    assert "worst" in told and "missed" in told


def test_a_plain_terminal_gets_plain_letters(card: Scorecard) -> None:
    printed(card, unicode=False).encode("ascii")


def test_a_missed_value_does_not_read_as_its_limit(card: Scorecard) -> None:
    line = next(line for line in card.lines if line.measure.key == "delay_median")
    assert number(line, line.felt) == "22.5"
    assert number(line, None) == "–"
