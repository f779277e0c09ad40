"""Scoring of felt contact, by hand."""

from __future__ import annotations

import numpy as np

from legwright.study.touchdowns import score

RATE, WEIGHT = 200.0, 25.0


def run(force: list[float], stance: list[bool]) -> object:
    return score(np.array(force)[:, None], np.array(stance)[:, None], rate=RATE, weight=WEIGHT)


def test_a_hit_has_its_delay_and_force() -> None:
    found = run([0.0] * 10 + [1.0, 2.0, 3.0, 4.0], [False] * 13 + [True])
    assert (found.hits, found.misses, found.false) == (1, 0, 0)
    np.testing.assert_allclose(found.delays, [3 / RATE])
    np.testing.assert_allclose(found.forces, [4.0 / WEIGHT])


def test_declared_in_the_air_is_false() -> None:
    found = run([0.0] * 20, [False] * 10 + [True] * 10)
    assert (found.hits, found.false) == (0, 1)
    assert found.false_per_100_steps == 100.0


def test_declared_too_late_is_missed() -> None:
    found = run([0.0] * 10 + [5.0] * 40, [False] * 45 + [True] * 5)
    assert (found.hits, found.misses) == (0, 1)
    assert found.hit_rate == 0.0
