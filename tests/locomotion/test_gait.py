"""Gaits against published phases, counts and margins."""

from __future__ import annotations

import pickle
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPoint, Point

from legwright.errors import RequestError
from legwright.locomotion.gait import NAMES, Gait, gait, longitudinal_margin, wave_family

TOPIC = "1_static_walking"


def support_counts(one: Gait, legs: int) -> set[int]:
    """Feet down at fine instants that avoid the exchanges themselves."""
    share = (np.arange(2520) + 0.5) / 2520
    return set(one.stance_at([str(i) for i in range(legs)], share).sum(axis=1).tolist())


@pytest.mark.parametrize("legs, duty", [(6, "1/2"), (6, "3/4"), (4, "3/4")])
def test_phases_and_support_counts(reference, legs, duty):
    """Source: Song & Waldron 1987 (phases from memory, counts recomputed)."""
    case = reference(TOPIC)[f"wave_phase_n{legs // 2}_b{duty}"]
    want = case["expected"]
    phases = [
        float(Fraction(p)) for p in want["phi_left_front_to_rear"] + want["phi_right_front_to_rear"]
    ]
    made = wave_family(legs, float(Fraction(duty)))
    np.testing.assert_allclose(made.phases_of([f"leg {i}" for i in range(legs)]), phases)
    assert support_counts(made, legs) == set(want["feet_in_support"])


@pytest.mark.parametrize(
    "duty, phases, down",
    [
        (Fraction(2, 3), ["0", "2/3", "1/3", "1/2", "1/6", "5/6"], 4),
        (Fraction(5, 6), ["0", "5/6", "2/3", "1/2", "1/3", "1/6"], 5),
    ],
)
def test_phases_of_six_legs(duty, phases, down):
    """Source: Song & Waldron 1987 (from memory), REFERENCES section 1."""
    made = wave_family(6, float(duty))
    np.testing.assert_allclose(made.phases_of(list("abcdef")), [float(Fraction(p)) for p in phases])
    assert support_counts(made, 6) == {down}


@pytest.mark.parametrize(
    "name, legs, duty",
    [("tripod", 6, 1 / 2), ("ripple", 6, 2 / 3), ("wave", 6, 5 / 6), ("tripod", 4, 3 / 4)],
)
def test_names_mean_duty_factors(name, legs, duty):
    """Referee: the definitions in docs/rooms/locomotion.md."""
    assert gait(name, legs).duty == pytest.approx(duty, abs=1e-15)


@pytest.mark.parametrize("legs", range(4, 11))
@pytest.mark.parametrize("name", NAMES)
def test_named_gaits_always_have_three_feet_down(name, legs):
    """Referee: three points at least make a polygon."""
    made = gait(name, legs)
    counts = support_counts(made, legs)
    assert min(counts) >= 3
    assert min(counts) <= made.duty * legs + 1e-9 <= max(counts) + 2e-9
    if name == "wave":
        assert min(counts) == legs - 1


@pytest.mark.parametrize("legs", [5, 7, 9, 11])
@pytest.mark.parametrize("name", NAMES)
def test_odd_legs_stand_around_their_middle(name, legs):
    """Referee: shapely, on a regular polygon of feet, which is our definition's claim."""
    left = (legs + 1) // 2
    around = [*range(left), *range(legs - 1, left - 1, -1)]
    angles = np.pi / 2 / left + 2 * np.pi * np.array(around) / legs
    feet = np.column_stack([np.cos(angles), np.sin(angles)])
    share = (np.arange(2520) + 0.5) / 2520
    for down in np.unique(gait(name, legs).stance_at([*map(str, range(legs))], share), axis=0):
        hull = MultiPoint(feet[down]).convex_hull
        assert hull.contains(Point(0, 0))
        assert hull.exterior.distance(Point(0, 0)) > 0.12


def test_margins_are_those_published(reference):
    """Source: Song & Waldron 1987 (formula from memory; recomputed by exact brute force)."""
    checked = 0
    for name, case in reference(TOPIC).items():
        if name.startswith("wave_LSM_n"):
            given_ = case["inputs"]
            margin = longitudinal_margin(
                given_["legs"],
                float(Fraction(given_["beta"])),
                stroke=given_["R_m"],
                pitch=given_["P_m"],
            )
            assert margin == pytest.approx(
                case["expected"]["S_m"], rel=case["tol_rel"], abs=1e-15
            ), name
            checked += 1
    assert checked == 7


def margins(made: Gait, legs: int, stroke: float, pitch: float, track: float):
    """Least longitudinal and static margin over a cycle, by shapely, just off the exchanges."""
    rows = legs // 2
    x0 = (np.arange(rows)[::-1] - (rows - 1) / 2) * pitch
    base = np.array([[x, side * track / 2] for side in (1, -1) for x in x0])
    names = [str(i) for i in range(legs)]
    phases = made.phases_of(names)
    events = np.unique(np.round(np.concatenate([phases, phases + made.duty]) % 1.0, 12))
    grid = np.unique(np.concatenate([(events + 1e-9) % 1, (events - 1e-9) % 1]))
    lsm, ssm = np.inf, np.inf
    for share in grid:
        local = (share - phases) % 1.0
        down = local < made.duty
        feet = base.copy()
        feet[:, 0] += stroke / 2 - local / made.duty * stroke
        polygon = MultiPoint(feet[down]).convex_hull
        cut = polygon.intersection(LineString([(-9, 0), (9, 0)]))
        low, _, high, _ = cut.bounds
        lsm = min(lsm, -low, high)
        gap = polygon.exterior.distance(Point(0, 0))
        ssm = min(ssm, gap if polygon.contains(Point(0, 0)) else -gap)
    return lsm, ssm


@pytest.mark.parametrize(
    "case", ["cycle_n3_b3/4_backfront", "cycle_n3_b5/6_backfront", "cycle_n2_b5/6_backfront"]
)
def test_least_margins_over_a_cycle(reference, case):
    """Source: Song & Waldron 1987, McGhee & Frank 1968; recomputed. Referee: shapely."""
    entry = reference(TOPIC)[case]
    i, want = entry["inputs"], entry["expected"]
    made = wave_family(i["legs"], float(Fraction(i["beta"])))
    lsm, ssm = margins(made, i["legs"], i["R_m"], i["P_m"], i["track_width_m"])
    # Sampled 1e-9 of a cycle beside each exchange: a stroke of 0.1 m shifts by < 1e-9 m.
    assert lsm == pytest.approx(want["min_LSM_m"], abs=1e-8)
    assert ssm == pytest.approx(want["min_SSM_m"], abs=1e-8)


@pytest.mark.parametrize("case", ["cycle_n3_b5/6_frontback", "cycle_n2_b3/4_frontback"])
def test_a_wave_from_front_to_rear_is_worse(reference, case):
    """Source: as above; the reversed wave as the user's own gait."""
    entry = reference(TOPIC)[case]
    i, want = entry["inputs"], entry["expected"]
    duty = float(Fraction(i["beta"]))
    wave = wave_family(i["legs"], duty)
    own = Gait(duty=duty, phases={leg: -phase for leg, phase in wave.phases.items()})
    lsm, ssm = margins(own, i["legs"], i["R_m"], i["P_m"], i["track_width_m"])
    assert ssm == pytest.approx(want["min_SSM_m"], abs=1e-8)
    if want["min_LSM_m"] > 0:
        assert lsm == pytest.approx(want["min_LSM_m"], abs=1e-8)


@given(
    st.sampled_from([4, 6, 8]),
    st.floats(0.0, 0.999),
    st.floats(0.05, 1.0),
)
def test_margin_formula_agrees_with_brute_force(legs, spread, share):
    """Referee: the definition of the margin, by shapely, for R <= P."""
    least = max(3.0 / legs, 0.5)
    duty = least + spread * (0.98 - least)
    lsm, _ = margins(wave_family(legs, duty), legs, 0.15 * share, 0.15, 0.2)
    formula = longitudinal_margin(legs, duty, stroke=0.15 * share, pitch=0.15)
    assert lsm == pytest.approx(formula, abs=1e-7)


def test_names_and_ordinals_bind_to_a_robot():
    own = Gait(duty=0.6, phases={"a": 0.25, "b": 1.5, "c": -0.25})
    np.testing.assert_allclose(own.phases_of(["c", "a", "b"]), [0.75, 0.25, 0.5])
    assert hash(own) == hash(Gait(duty=0.6, phases={"a": 0.25, "b": 0.5, "c": 0.75}))


def test_a_gait_survives_a_process_border():
    made = gait("ripple", 8)
    assert pickle.loads(pickle.dumps(made)) == made


def test_a_gait_cannot_be_changed():
    with pytest.raises(TypeError):
        gait("wave").phases[0] = 0.5  # type: ignore[index]


@pytest.mark.parametrize("duty", [0.0, 1.0, -0.1, float("nan")])
def test_impossible_duty_is_refused(duty):
    with pytest.raises(RequestError, match="duty"):
        Gait(duty=duty, phases={0: 0.0})


def test_wrong_requests_are_refused():
    with pytest.raises(RequestError, match="tripod"):
        gait("tripodd")
    with pytest.raises(RequestError, match="at least 4"):
        gait("wave", 3)
    with pytest.raises(RequestError, match="finite"):
        Gait(duty=0.5, phases={0: float("inf")})
    with pytest.raises(RequestError, match="phase"):
        gait("wave", 4).phases_of(["a", "b", "c", "d", "e"])
    with pytest.raises(RequestError, match="leg of this robot"):
        gait("wave", 6).phases_of(["a", "b", "c", "d"])
    for bad in ({"legs": 5}, {"duty": 0.4}, {"stroke": 0.3}):
        asked = {"legs": 6, "duty": 0.75, "stroke": 0.1, "pitch": 0.15} | bad
        with pytest.raises(RequestError):
            longitudinal_margin(asked.pop("legs"), asked.pop("duty"), **asked)


def test_an_exchange_neither_drops_nor_doubles_a_foot():
    """Referee: two thirds of six legs, whatever the sampling, also at the exchanges."""
    for samples in (6, 12, 30, 96, 120, 126):
        share = np.arange(samples) / samples
        down = gait("ripple", 6).stance_at(list("abcdef"), share).sum(axis=1)
        assert set(down.tolist()) == {4}, samples
