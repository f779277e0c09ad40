"""Preferred numbers against the rule that they round, and grids against what they must hold."""

from __future__ import annotations

from math import log10, radians

import pytest

from legwright.errors import RequestError
from legwright.fabrication.grids import angle_grid, length_grid
from legwright.fabrication.preferred import SERIES, around

TABLE = {
    "R5": "1.00 1.60 2.50 4.00 6.30",
    "R10": "1.00 1.25 1.60 2.00 2.50 3.15 4.00 5.00 6.30 8.00",
    "R20": (
        "1.00 1.12 1.25 1.40 1.60 1.80 2.00 2.24 2.50 2.80 3.15 3.55 4.00 4.50 5.00 5.60 6.30 "
        "7.10 8.00 9.00"
    ),
}
"""ISO 3:1973, table 1, typed in anew (from memory)."""


@pytest.mark.parametrize("name", TABLE)
def test_series_are_the_published_ones(name: str) -> None:
    """Referee: the table of ISO 3, typed in apart from the program's own."""
    assert SERIES[name] == tuple(float(word) for word in TABLE[name].split())


@pytest.mark.parametrize("name", SERIES)
def test_series_round_a_geometric_one(name: str) -> None:
    """Referee: ISO 3's definition, 10^(k/n); its rounded values stray by less than 1.3 %."""
    count = int(name[1:])
    assert len(SERIES[name]) == count
    for k, number in enumerate(SERIES[name]):
        assert abs(number / 10.0 ** (k / count) - 1.0) < 0.0130
        assert round(count * log10(number)) == k


def test_numbers_around_a_value_go_on_through_decades() -> None:
    """85 mm has 80 and 90 beside it in R20; 96 mm has 90 and 100."""
    assert around("R20", 85.0, 1) == (80.0, 90.0)
    assert around("R20", 96.0, 2) == (80.0, 90.0, 100.0, 112.0)
    assert around("R10", 0.1, 1) == (0.08, 0.1, 0.125)


def test_even_grid() -> None:
    """A value on the grid stands in the middle; another has neighbours on both sides."""
    grid = length_grid("5mm")
    assert grid.around(0.085, 1, positive=True) == (0.08, 0.085, 0.09)
    assert grid.around(0.0873, 1, positive=True) == (0.085, 0.09)
    assert grid.around(0.004, 2, positive=True) == (0.005, 0.01)
    assert grid.around(-0.12, 1, positive=False) == (-0.125, -0.12, -0.115)
    assert angle_grid("15 deg").around(radians(45.0), 1, positive=False) == pytest.approx(
        [radians(30.0), radians(45.0), radians(60.0)]
    )


@pytest.mark.parametrize(
    ("make", "text", "said"),
    [
        (length_grid, "0 mm", "must be a step from 0.01 mm to 500 mm"),
        (length_grid, "-5 mm", "must be a step from"),
        (length_grid, "5", "has no unit"),
        (length_grid, "5 deg", "not a length"),
        (length_grid, "R7", "a series of ISO 3: R5, R10, R20, R40, R80"),
        (length_grid, "nan mm", "is not finite"),
        (angle_grid, "7 deg", "6.923 deg or 7.5 deg is nearest"),
        (angle_grid, "0 deg", "must be a step from 0.01 deg"),
        (angle_grid, "5 mm", "not an angle"),
    ],
)
def test_what_is_no_grid(make: object, text: str, said: str) -> None:
    """One sentence each, with the value and the way out."""
    with pytest.raises(RequestError) as error:
        make(text)  # type: ignore[operator]
    assert said in str(error.value)
    assert "\n" not in str(error.value)
