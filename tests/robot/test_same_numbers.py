"""Arguments of remembered functions are equal exactly where their numbers are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from legwright.robot.same_numbers import Alike
from legwright.robot.sheet_making import Tolerances


@dataclass(frozen=True, eq=False)
class Made:
    outline: np.ndarray
    wall: float


def made(wall: float = 0.002, last: float = 3.0) -> Made:
    return Made(np.array([1.0, 2.0, last]), wall)


def test_same_numbers_are_one_and_others_are_not():
    known = Alike(made(), [made()], 3, None, "hood")
    assert known == Alike(made(), (made(),), 3, None, "hood")
    assert len({known, Alike(made(), (made(),), 3, None, "hood")}) == 1
    for other in (
        (made(wall=0.0021), [made()], 3, None, "hood"),
        (made(), [made(last=np.nextafter(3.0, 4.0))], 3, None, "hood"),
        (made(), [made(), made()], 3, None, "hood"),
        (made(), [made()], 3, 0.0, "hood"),
    ):
        assert known != Alike(*other)
    assert Alike(np.zeros((2, 3))) != Alike(np.zeros((3, 2)))
    assert Alike(np.zeros(2, dtype=np.int64)) != Alike(np.zeros(2))


def test_tables_of_a_sheet_are_compared_by_all_they_say():
    def table(deep: float, general: str = "m") -> Tolerances:
        return Tolerances.model_construct(general=general, lengths={"hip": deep, "coxa": 1e-4})

    known = Alike(table(2e-4))
    assert known == Alike(table(2e-4))
    assert known != Alike(table(np.nextafter(2e-4, 1.0)))
    assert known != Alike(table(2e-4, "f"))


def test_what_has_no_content_is_refused():
    with pytest.raises(TypeError, match="set has no content"):
        Alike({1, 2})
