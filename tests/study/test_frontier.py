"""The search for the largest value that holds, on strains with a known answer."""

from __future__ import annotations

import pytest

from legwright.study.envelope import fastest, frontier
from legwright.study.strains import Strain


def strained(ratio: float) -> Strain:
    return Strain(limit="heat", ratio=ratio)


@pytest.mark.parametrize("edge", [0.07, 1.0, 3.3])
@pytest.mark.parametrize("search", [frontier, fastest])
def test_a_limit_that_grows_is_found_from_below(search, edge):
    top, stop = search(lambda value: strained(value / edge), 1.0, 64.0)
    assert edge * (1 - 0.06) - 0.01 <= top <= edge
    assert stop.ratio > 1.0


def test_hot_on_the_spot_but_cool_in_motion_is_no_standstill():
    """Holds from 1.5 to 3 only: slower it is hot, faster something else stops it."""
    strains = {True: lambda v: strained(1.08 - 0.06 * v), False: lambda v: strained(1.0 + v)}
    top, stop = fastest(lambda v: strains[v <= 3.0](v), 1.0, 64.0)
    assert 2.9 < top <= 3.0
    assert stop.ratio > 1.0
    assert frontier(lambda v: strains[v <= 3.0](v), 1.0, 64.0)[0] == 0.0


@pytest.mark.parametrize("least", [1.01, 1.6])
def test_nothing_that_holds_is_nothing(least):
    top, stop = fastest(lambda value: strained(least + value), 1.0, 64.0)
    assert top == 0.0
    assert stop.ratio > 1.0
