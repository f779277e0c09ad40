"""The scorecard: medians, the worst, targets met and missed, who finished."""

from __future__ import annotations

from typing import Any

import pytest

from legwright.study.finding import Verdict
from legwright.study.scorecard import MEASURES, Scorecard, scorecard

GOOD: dict[str, Any] = {
    "seed": 0, "mode": "felt", "finished": True, "fell": False, "distance": 3.0,
    "path_error": 0.01, "speed": 0.05, "hit_rate": 1.0, "false_per_100_steps": 0.0,
    "delay_median": 0.01, "delay_p95": 0.02, "force_at_detection": 0.1,
    "force_at_detection_p95": 0.15, "min_margin": 0.05, "energy_per_metre": 400.0,
    "hottest": 320.0, "lowest_voltage": 12.0, "odometry_error": -0.02, "slips_per_metre": 0.0,
    "slips_missed": 0, "false_slips_per_100": 0.0,
    "peak_force": 0.6, "worst_tilt": 0.05, "unsupported": 0.01, "steps": 100,
}  # fmt: skip


def card(*rows: dict[str, Any], ground: str = "steps", rate: float = 200.0) -> Scorecard:
    return scorecard([GOOD | row for row in rows], title="rook", ground=ground, rate=rate)


def line(card: Scorecard, key: str) -> Any:
    return next(line for line in card.lines if line.measure.key == key)


def test_every_measure_is_a_key_of_a_trial(walked: tuple[dict[str, Any], Any]) -> None:
    assert {measure.key for measure in MEASURES} <= set(walked[0])


def test_a_good_walk_meets_all_its_targets() -> None:
    good = card({})
    assert good.verdict is Verdict.PASS
    assert good.count == "8 of 8 targets met"
    assert good.headline == "finished 1 of 1 felt."


@pytest.mark.parametrize(
    "miss",
    [
        {"hit_rate": 0.994}, {"false_per_100_steps": 1.01}, {"delay_median": 0.0221},
        {"delay_p95": 0.041}, {"force_at_detection": 0.151}, {"force_at_detection_p95": 0.201},
        {"min_margin": -0.001}, {"finished": False},
    ],
)  # fmt: skip
def test_one_miss_is_enough(miss: dict[str, Any]) -> None:
    bad = card(miss)
    assert bad.verdict is Verdict.FAIL
    assert sum(f.verdict is Verdict.FAIL for f in bad.findings) == 1


def test_rates_are_means_over_steps_and_the_rest_medians_beside_the_worst() -> None:
    rows = ({"hit_rate": 1.0, "steps": 300}, {"hit_rate": 0.96, "steps": 100, "delay_p95": 0.09},
            {"hit_rate": None, "steps": 0, "delay_p95": 0.03})  # fmt: skip
    many = card(*rows)
    assert line(many, "hit_rate").felt == pytest.approx(99.0)
    assert line(many, "hit_rate").worst == pytest.approx(96.0)
    assert line(many, "delay_p95").felt == pytest.approx(30.0)
    assert line(many, "delay_p95").worst == pytest.approx(90.0)
    assert line(card({}), "delay_p95").worst is None


def test_odometry_is_judged_on_flat_ground_alone_and_both_ways() -> None:
    assert line(card({"odometry_error": -0.06}), "odometry_error").finding is None
    found = line(card({"odometry_error": -0.06}, ground="flat"), "odometry_error").finding
    assert found.verdict is Verdict.FAIL and found.value == pytest.approx(6.0)


def test_blind_is_a_yardstick_only_where_it_came_as_far() -> None:
    blind = {"mode": "blind", "worst_tilt": 0.08, "hit_rate": None}
    found = line(card({}, blind), "worst_tilt").finding
    assert found is not None and found.verdict is Verdict.FAIL  # 0.05 > 0.6 * 0.08
    assert line(card({}, blind | {"worst_tilt": 0.09}), "worst_tilt").finding.verdict is (
        Verdict.PASS
    )
    assert line(card({}, blind | {"distance": 1.0}), "worst_tilt").finding is None
    assert line(card({}, blind, ground="flat"), "worst_tilt").finding is None


def test_slow_control_has_no_contact_targets() -> None:
    slow = card({"hit_rate": 0.9}, rate=100.0)
    assert line(slow, "hit_rate").finding is None and slow.verdict is Verdict.PASS


def test_what_kept_it_slow_is_told() -> None:
    slow = {"asked_speed": 0.08, "slowed": {"limit": "joint speed", "share": 0.75}}
    told = card(slow, {"asked_speed": 0.08, "slowed": None})
    assert "Asked for 0.08 m/s; joint speed allows 0.06" in told.headline


def test_what_fell_or_was_stopped_is_told() -> None:
    rows = ({"finished": False, "fell": True}, {"stopped": True, "finished": False,
            "distance": 0.4}, {"mode": "blind", "finished": True})  # fmt: skip
    told = card(*rows)
    assert told.headline == "finished 0 of 2 felt (1 fell, 1 stopped after 0.40 m), 1 of 1 blind."
    assert told.findings[0].limit == 1.0  # a stopped walk is not held against the robot
