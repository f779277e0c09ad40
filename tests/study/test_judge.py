"""Where a value meets its limit: bands, senses, and numbers that are none."""

from __future__ import annotations

from math import inf, nan, nextafter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import NEAR, judge, overall

FINITE = st.floats(-1e6, 1e6, allow_nan=False)
RANK = {Verdict.FAIL: 0, Verdict.WARN: 1, Verdict.PASS: 2}


def of(value, limit, sense=Sense.AT_MOST, **options) -> Finding:
    return judge(
        "heat", "x", value, limit, "K", sense=sense, why="w", source="s", cure="c",
        missing="m", **options,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(0.0, "pass"), (89.9, "pass"), (90.0, "pass"), (90.1, "warn"), (100.0, "warn"),
     (100.0 + 1e-12, "warn"), (100.1, "fail"), (inf, "fail"), (-inf, "pass"), (nan, "unknown"),
     (None, "unknown")],
)  # fmt: skip
def test_bands_below_a_limit_of_100(value, verdict):
    assert of(value, 100.0).verdict.value == verdict


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(inf, "pass"), (110.0, "pass"), (109.9, "warn"), (100.0, "warn"), (99.9, "fail"),
     (-inf, "fail"), (nan, "unknown"), (None, "unknown")],
)  # fmt: skip
def test_bands_above_a_limit_of_100(value, verdict):
    assert of(value, 100.0, Sense.AT_LEAST).verdict.value == verdict


@pytest.mark.parametrize("limit", [None, nan, inf, -inf])
def test_no_limit_is_unknown_and_says_what_to_enter(limit):
    found = of(1.0, limit)
    assert (found.verdict, found.limit, found.margin, found.cure) == (
        Verdict.UNKNOWN, None, None, "m",
    )  # fmt: skip


@given(FINITE, FINITE)
def test_margin_is_positive_exactly_on_the_allowed_side(value, limit):
    below, above = of(value, limit), of(value, limit, Sense.AT_LEAST)
    assert below.margin == limit - value
    assert above.margin == value - limit
    hair = 1e-9 * max(1.0, abs(limit))
    assert (below.verdict is Verdict.FAIL) is (value - limit > hair)
    assert (above.verdict is Verdict.FAIL) is (limit - value > hair)


@given(FINITE, FINITE)
def test_the_two_senses_mirror_each_other(value, limit):
    assert of(value, limit).verdict is of(-value, -limit, Sense.AT_LEAST).verdict


@given(FINITE, FINITE, st.floats(0.0, 1e5))
def test_moving_to_the_allowed_side_never_makes_it_worse(value, limit, step):
    assert RANK[of(value - step, limit).verdict] >= RANK[of(value, limit).verdict]


@given(FINITE)
def test_an_exact_hit_holds_whatever_rounding_did(limit):
    for value in (limit, nextafter(limit, inf), nextafter(limit, -inf)):
        assert of(value, limit).verdict is not Verdict.FAIL


@given(FINITE, st.floats(0.0, 100.0))
def test_a_stated_band_replaces_the_tenth(limit, near):
    hair = 2e-9 * max(1.0, abs(limit))
    assert of(limit - near - hair, limit, near=near).verdict is Verdict.PASS
    if near > 4 * hair:
        assert of(limit - 0.5 * near, limit, near=near).verdict is Verdict.WARN
    assert NEAR == 0.1


def test_a_pass_carries_no_cure():
    assert of(1.0, 100.0).cure == ""
    assert of(95.0, 100.0).cure == of(101.0, 100.0).cure == "c"


@pytest.mark.parametrize(
    ("seen", "verdict"),
    [("", "unknown"), ("pass", "pass"), ("pass warn", "warn"), ("pass unknown warn", "unknown"),
     ("unknown fail pass warn", "fail"), ("unknown", "unknown")],
)  # fmt: skip
def test_overall(seen, verdict):
    findings = [Finding(area="a", name=word, verdict=Verdict(word)) for word in seen.split()]
    assert overall(findings).value == verdict
