"""Numbers as the look's rules write them (LOOK, "Numbers")."""

from __future__ import annotations

import pytest

from legwright.study.finding import Finding, Sense, Verdict
from legwright.views.numbers import (
    limit_text,
    margin_text,
    plain,
    significant,
    value_text,
    with_unit,
)

MOST, LEAST = Sense.AT_MOST, Sense.AT_LEAST


@pytest.mark.parametrize(
    ("value", "limit", "sense", "verdict", "shown", "margin"),
    [
        (7.1, 5.6, MOST, "fail", "7.1", "−1.5"),
        (7.12, 5.6, MOST, "fail", "7.2", "−1.6"),  # a load is rounded up
        (9.6, 20.0, LEAST, "fail", "9", "−11"),  # a margin is rounded down
        (9.9, 10.5, LEAST, "fail", "9.9", "−0.6"),
        (5.58, 5.6, MOST, "warn", "5.58", "0.02"),  # one digit more within 1 %
        (0.3, 5.0, MOST, "pass", "0.3", "4.7"),
        (12345.6, 20000.0, MOST, "pass", "12\u202f346", "7\u202f654"),
        (-3.2, 0.0, LEAST, "fail", "−3.2", "−3.2"),
        (20.0, 20.0, LEAST, "pass", "20", "0"),
        (2e-9, 0.0, MOST, "pass", "0", "−1"),
        (float("inf"), 60.0, LEAST, "pass", "∞", "∞"),
    ],
)
def test_value_and_margin(value, limit, sense, verdict, shown, margin):
    finding = Finding(
        area="a",
        name="n",
        verdict=Verdict(verdict),
        value=value,
        limit=limit,
        unit="mm",
        sense=sense,
    )
    assert value_text(finding) == f"{shown}\u202fmm"
    if margin != "−1":
        assert margin_text(finding) == margin


def test_the_limit_carries_its_sense_and_unit():
    finding = Finding(area="a", name="n", verdict=Verdict.PASS, value=1.0, limit=5.6, unit="N·m")
    assert limit_text(finding) == "≤\u202f5.6\u202fN·m"


def test_an_assumed_number_stands_in_brackets():
    finding = Finding(area="a", name="n", verdict=Verdict.WARN, value=0.5, limit=0.6, assumed=True)
    assert value_text(finding) == "(0.5)"


def test_no_value_is_said_in_words():
    assert value_text(Finding(area="a", name="n", verdict=Verdict.UNKNOWN)) == "not known"


def test_degrees_stand_close_and_minus_is_a_minus():
    assert with_unit(plain(-12.0, 0), "°") == "−12°"
    assert with_unit("40", "°C") == "40\u202f°C"
    assert significant(0.19200001) == "0.192"
    assert plain(-0.0, 1) == "0.0"
