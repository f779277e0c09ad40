"""Names by place, for any number of legs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from legwright.robot.leg_names import ordered_names, ranks


@pytest.mark.parametrize(
    ("count", "names"),
    [
        (0, []),
        (1, [""]),
        (2, ["front", "rear"]),
        (3, ["front", "middle", "rear"]),
        (4, ["front", "second", "third", "rear"]),
        (5, ["front", "second", "third", "fourth", "rear"]),
    ],
)
def test_ranks_along_one_side(count: int, names: list[str]) -> None:
    assert ranks(count) == names


def test_many_legs_on_one_side_are_told_apart() -> None:
    assert len(set(ranks(40))) == 40


@pytest.mark.parametrize(
    ("places", "names"),
    [
        ([(0.1, 0.1), (0.1, -0.1)], ["left", "right"]),
        ([(0.1, 0), (-0.1, 0.1), (-0.1, -0.1)], ["left", "right", "front"]),
        ([(-0.1, 0), (0.1, 0.1), (0.1, -0.1)], ["left", "right", "rear"]),
        ([(0.1, 0), (-0.1, 0), (0, 0.1), (0, -0.1)], ["left", "right", "front", "rear"]),
        (
            [(0, 0), (0.1, 0.1), (0.1, -0.1), (-0.1, 0.1), (-0.1, -0.1)],
            ["left-front", "left-rear", "right-front", "right-rear", "centre"],
        ),
    ],
)
def test_small_and_odd_layouts(places: list[tuple[float, float]], names: list[str]) -> None:
    assert [name for _, name in ordered_names(np.array(places))] == names


@given(
    places=st.lists(
        st.tuples(*[st.integers(-20, 20).map(lambda n: n / 100)] * 2),
        min_size=1, max_size=12, unique=True,
    )
)  # fmt: skip
def test_every_leg_gets_one_name_of_its_own(places: list[tuple[float, float]]) -> None:
    named = ordered_names(np.array(places))
    assert sorted(index for index, _ in named) == list(range(len(places)))
    assert len({name for _, name in named}) == len(places)


@given(
    half=st.lists(
        st.tuples(st.integers(-20, 20), st.integers(5, 20)), min_size=1, max_size=6,
        unique_by=lambda place: place[0],
    )
)  # fmt: skip
def test_mirrored_robots_have_mirrored_names(half: list[tuple[int, int]]) -> None:
    places = [(x / 100, y / 100) for x, y in half] + [(x / 100, -y / 100) for x, y in half]
    names = dict(ordered_names(np.array(places)))
    for i in range(len(half)):
        assert names[i].replace("left", "right") == names[i + len(half)]
