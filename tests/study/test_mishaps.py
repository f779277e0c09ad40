"""The scoring of felt slips and stumbles, on runs made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from legwright.study.mishaps import slips_felt, stumbles_felt

RATE, WEIGHT, T = 100.0, 10.0, 300


def test_slips_are_hits_misses_or_false_alarms() -> None:
    """Foot 0 slides and is told, 1 slides untold, 2 stands and is told, 3 slides in the air."""
    feet, force = np.zeros((T, 4, 2)), np.full((T, 4), 2.0)
    slide = np.clip(np.arange(T) - 100, 0, 100) * 2e-4
    feet[:, 0, 0] = feet[:, 1, 1] = feet[:, 3, 0] = slide
    force[:, 3] = 0.1
    told = np.zeros((T, 4), dtype=bool)
    told[140, 0] = told[50, 2] = True
    found = slips_felt(feet, force, np.ones((T, 4), bool), told, rate=RATE, weight=WEIGHT)
    assert (found.told, found.missed, found.false, found.among) == (1, 1, 1, 4)
    assert found.delays == pytest.approx([0.14], abs=0.021)  # 5 mm are passed at 0.126 s


def test_a_slip_told_in_an_earlier_stance_does_not_count() -> None:
    feet, force, stance = np.zeros((T, 1, 2)), np.full((T, 1), 2.0), np.ones((T, 1), bool)
    feet[150:, 0, 0] = np.linspace(0.0, 0.03, 150)
    stance[100:120] = False
    told = np.zeros((T, 1), dtype=bool)
    told[50] = True
    found = slips_felt(feet, force, stance, told, rate=RATE, weight=WEIGHT)
    assert (found.told, found.missed, found.false, found.among) == (0, 1, 1, 2)


def test_stumbles_are_hits_misses_or_false_alarms() -> None:
    """Foot 0 meets 2 N and tells, 1 does not tell, 2 meets nothing and tells, 3 tells too late."""
    force, told = np.zeros((T, 4, 3)), np.zeros((T, 4), dtype=bool)
    force[100:200, (0, 1, 3), 0] = -2.0
    told[105, 0] = told[105, 2] = told[130, 3] = True
    found = stumbles_felt(force, np.ones((T, 4), bool), told, rate=RATE, weight=WEIGHT)
    assert (found.told, found.missed, found.false, found.among) == (1, 2, 1, 4)
    assert found.delays == pytest.approx([0.05])
