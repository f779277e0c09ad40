"""What the sheet leaves out is unknown and names its key; it never passes in silence."""

from __future__ import annotations

import re

import pytest
from asking import ONE_GAIT

from legwright.study.check import check
from legwright.study.finding import Verdict

LINES = {
    "speed_forward": 'speed_forward = "0.10 m/s"',
    "speed_sideways": 'speed_sideways = "0.06 m/s"',
    "turn_rate": 'turn_rate = "12 deg/s"',
    "slope": 'slope = "12 deg"',
    "payload": 'payload = "0.6 kg"',
    "ground_clearance": 'ground_clearance = "50 mm"',
    "obstacle": 'obstacle = "20 mm"',
    "reach_reserve": 'reach_reserve = "8 mm"',
    "probe_push": 'probe_push = "8 N"',
    "friction": "friction = 0.6 ",
    "run_time": 'run_time = "40 min"',
}
DEFAULTED = {
    "stability_margin": 'stability_margin = "20 mm"',
    "link_clearance": 'link_clearance = "4 mm"',
}
"""Keys without which a bare limit remains: not tipping, not touching."""


def without(key, line, variant):
    return check(variant(ONE_GAIT, {line: f"# {line}"}))


@pytest.mark.parametrize("key", LINES)
def test_a_missing_requirement_is_unknown_and_named(key, variant):
    findings = without(key, LINES[key], variant)
    named = [
        one for one in findings
        if one.verdict is Verdict.UNKNOWN and re.search(rf"requirements\.{key}\b", one.cure)
    ]  # fmt: skip
    assert named, [one for one in findings if one.verdict is Verdict.UNKNOWN]
    for one in named:
        assert one.value is None or one.limit is None
        assert one.margin is None
    strays = [o for o in findings if o.verdict is Verdict.UNKNOWN and o not in named]
    assert not strays


@pytest.mark.parametrize("key", DEFAULTED)
def test_a_missing_margin_falls_back_to_zero_and_says_so(key, variant):
    findings = without(key, DEFAULTED[key], variant)
    told = [one for one in findings if "the sheet asks for no" in one.source]
    assert told
    assert all(one.limit == 0.0 for one in told)


@pytest.mark.parametrize("key", ["highest_winding", "thermal_resistance"])
def test_missing_servo_data_is_unknown_and_named(key, variant):
    """Without a rating for ever either: from that the thermal resistance would follow."""
    lines = {
        "highest_winding": {'highest_winding = "110 degC"': ""},
        "thermal_resistance": {
            'thermal_resistance = "14 K/W"': "",
            'continuous_torque = "1.2 N*m"': "",
        },
    }[key]
    findings = check(variant(ONE_GAIT, lines), only=["heat"])
    unknown = [one for one in findings if one.verdict is Verdict.UNKNOWN]
    hot = [one for one in findings if one.name.startswith("winding temperature")]
    assert len(hot) == 3
    assert all(one in unknown and one.cure for one in hot), [(o.name, o.verdict) for o in findings]
    assert any(key in one.cure or "thermal" in one.cure for one in unknown)
