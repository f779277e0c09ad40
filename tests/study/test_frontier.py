"""The search for the largest value that holds, on strains with a known answer."""

from __future__ import annotations

from itertools import pairwise

import pytest

from legwright.study.search import Ladder, fastest, frontier, narrowest
from legwright.study.strains import Strain


def strained(ratio: float) -> Strain:
    return Strain(limit="heat", ratio=ratio)


@pytest.mark.parametrize("edge", [0.07, 1.0, 3.3])
@pytest.mark.parametrize("search", [frontier, fastest])
def test_a_limit_that_grows_is_found_from_below(search, edge):
    top, stop, _ = search([lambda value: strained(value / edge)], 1.0, 64.0)
    assert edge * (1 - 0.06) - 0.01 <= top <= edge
    assert stop.ratio > 1.0


def test_hot_on_the_spot_but_cool_in_motion_is_no_standstill():
    """Holds from 1.5 to 3 only: slower it is hot, faster something else stops it."""
    strains = {True: lambda v: strained(1.08 - 0.06 * v), False: lambda v: strained(1.0 + v)}
    top, stop, _ = fastest([lambda v: strains[v <= 3.0](v)], 1.0, 64.0)
    assert 2.9 < top <= 3.0
    assert stop.ratio > 1.0
    assert frontier([lambda v: strains[v <= 3.0](v)], 1.0, 64.0)[0] == 0.0


@pytest.mark.parametrize("least", [1.01, 1.6])
def test_nothing_that_holds_is_nothing(least):
    top, stop, _ = fastest([lambda value: strained(least + value)], 1.0, 64.0)
    assert top == 0.0
    assert stop.ratio > 1.0


def shapes(edge: float):
    """Strains that pass 1 at the same edge in different manners: straight, curved, by a jump."""
    return (
        lambda value: strained(value / edge),
        lambda value: strained((value / edge) ** 6),
        lambda value: strained(0.2 if value <= edge else 40.0),
        lambda value: strained(0.999 if value <= edge else 1.0 + (value - edge) / edge),
    )


@pytest.mark.parametrize("edge", [0.03, 0.4, 1.0, 1.99, 37.0])
@pytest.mark.parametrize("shape", range(4))
def test_the_edge_is_known_to_one_part_in_128_of_its_bracket(edge, shape):
    tried = []

    def probe(value):
        tried.append(value)
        return shapes(edge)[shape](value)

    top, stop, _ = frontier([probe], 1.0, 64.0)
    width = max(1.0, edge) / 128
    assert edge - width <= top <= edge
    assert stop.ratio > 1.0
    assert len(tried) <= 24


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 2, 0)])
def test_the_best_way_and_the_hardest_demand_set_the_edge(order):
    """Referee: the largest, and the least, of the edges that the probes are made with."""
    edges = [0.7, 2.9, 3.1]
    probes = [shapes(edges[at])[at] for at in order]
    best, stop, way = frontier(probes, 1.0, 64.0)
    assert 3.1 - 0.05 < best <= 3.1
    assert edges[order[way]] == 3.1
    assert stop.ratio > 1.0
    least, stop, _ = narrowest(probes, 1.0, 64.0)
    assert 0.7 - 0.02 < least <= 0.7
    assert stop.ratio > 1.0
    assert frontier(probes, 1.0, 2.5)[0] == 2.5
    assert narrowest(probes, 0.1, 0.5)[0] == 0.5
    assert narrowest([*probes, lambda value: strained(1.2)], 1.0, 64.0)[0] == 0.0


@pytest.mark.parametrize("near", [1e-4, 0.05, 0.42, 2.8, 2.96, 3.1, 20.0, 200.0])
@pytest.mark.parametrize("edges", [(0.7, 2.9, 3.1), (0.031,), (1.0, 1.0), (90.0, 0.2), (1e-5,)])
def test_where_an_edge_is_thought_to_be_changes_trials_only(near, edges):
    probes = [shapes(edge)[at % 4] for at, edge in enumerate(edges)]
    for search in (frontier, narrowest, fastest):
        cold = search(probes, 1.0, 64.0)
        warm = search(probes, 1.0, 64.0, near=near)
        assert (cold.value, cold.stop) == (warm.value, warm.stop)


def test_an_edge_that_did_not_move_takes_two_trials():
    tried = []

    def probe(value):
        tried.append(value)
        return strained(value / 3.0)

    edge = frontier([probe], 1.0, 64.0).value
    tried.clear()
    assert frontier([probe], 1.0, 64.0, near=edge).value == edge
    assert len(tried) == 2


@pytest.mark.parametrize(("start", "most"), [(1.0, 64.0), (0.3, 0.7), (1.0, 0.4), (0.1, 0.1)])
def test_rungs_rise_and_find_their_values_again(start, most):
    ladder = Ladder(start, most)
    values = [ladder.value(rung) for rung in range(1, ladder.last + 1)]
    assert all(one < other for one, other in pairwise(values))
    assert values[-1] == most
    assert [ladder.rung(value) for value in values[:-1]] == list(range(1, ladder.last))


def test_of_demands_that_are_strained_alike_the_first_is_named() -> None:
    """Mirrored walks stop at one value; rounding makes either the harder one."""

    def probe(name: str, more: float):
        return lambda value: Strain(limit=name, ratio=value * (1.0 + more))

    for left, right in ((0.0, 1e-14), (1e-14, 0.0)):
        _, stop, _ = narrowest([probe("left", left), probe("right", right)], 0.3, 64.0)
        assert stop.limit == "left"
    _, stop, _ = narrowest([probe("left", 0.0), probe("right", 1e-3)], 0.3, 64.0)
    assert stop.limit == "right"

    def mirrored(name: str, more: float):
        return lambda value: Strain(limit=name, ratio=1.2 + value * (value - 0.1 + more))

    for near in (None, 0.01, 3.0):  # none holds, from wherever it is looked for
        demands = [mirrored("left", 0.0), mirrored("right", 1e-3)]
        value, stop, _ = narrowest(demands, 0.3, 64.0, near=near)
        assert (value, stop.limit) == (0.0, "left")
