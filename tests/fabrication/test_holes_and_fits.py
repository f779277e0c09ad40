"""Clearance holes and fits against published values and an independent library."""

from __future__ import annotations

import json
from pathlib import Path

import pressfit
import pytest

from legwright.errors import RequestError
from legwright.fabrication.clearance_holes import SCREWS, clearance_hole
from legwright.fabrication.limits import fit, hole, shaft, tolerance_grade
from legwright.mechanics.general_tolerances import angle_deviation, length_deviation, stated

VALUES = json.loads((Path(__file__).parents[1] / "data" / "reference_values.json").read_text())
FABRICATION = VALUES["topics"]["9_fabrication"]
SIZES_MM = (1, 2, 3, 3.5, 6, 8, 10, 14, 18, 22, 30, 40, 50, 65, 80, 100, 119)


def published(prefix):
    found = [case for case in FABRICATION if case["id"].startswith(prefix)]
    assert found
    return found


# Fine, medium, coarse: ISO 273:1979, as printed by two suppliers' tables.
ISO_273_MM = {
    "M1.6": (1.7, 1.8, 2.0), "M2": (2.2, 2.4, 2.6), "M2.5": (2.7, 2.9, 3.1),
    "M3": (3.2, 3.4, 3.6), "M4": (4.3, 4.5, 4.8), "M5": (5.3, 5.5, 5.8),
}  # fmt: skip


@pytest.mark.parametrize("screw", ISO_273_MM)
def test_clearance_holes_are_those_of_iso_273(screw):
    holes = [clearance_hole(screw, series) for series in ("fine", "medium", "coarse")]
    assert [h.diameter * 1e3 for h in holes] == pytest.approx(ISO_273_MM[screw], abs=1e-9)
    assert [h.grade for h in holes] == ["H12", "H13", "H14"]


def test_the_reference_value_of_m3():
    (case,) = published("ISO273_M3")
    for series in ("fine", "medium", "coarse"):
        wanted = case["expected"][f"{series}_mm"]
        assert clearance_hole("M3", series).diameter * 1e3 == pytest.approx(wanted, abs=1e-9)


def test_every_hole_lets_its_screw_through_and_grows_by_series():
    for screw in SCREWS:
        sizes = [clearance_hole(screw, s).diameter * 1e3 for s in ("fine", "medium", "coarse")]
        assert float(screw[1:]) < sizes[0] < sizes[1] < sizes[2]


def test_strange_threads_are_refused_in_words():
    with pytest.raises(RequestError, match="M3"):
        clearance_hole("m3")
    with pytest.raises(RequestError, match="fine, medium, coarse"):
        clearance_hole("M3", "snug")


@pytest.mark.parametrize("grade", range(5, 12))
def test_grades_are_those_of_an_independent_library(grade):
    """Referee: pressfit."""
    for size in SIZES_MM:
        ours = tolerance_grade(size * 1e-3, grade) * 1e6
        assert ours == pytest.approx(pressfit.it_value(size, grade), abs=1e-9)


@pytest.mark.parametrize("grade", range(12, 15))
def test_coarse_grades_are_ten_times_those_five_steps_finer(grade):
    """Referee: the standard's own rule, ISO 286-1:2010 annex A, beyond IT6."""
    for size in SIZES_MM:
        finer = tolerance_grade(size * 1e-3, grade - 5)
        assert tolerance_grade(size * 1e-3, grade) == pytest.approx(10.0 * finer, rel=0.04)


@pytest.mark.parametrize("letter", "ghkmp")
def test_shafts_are_those_of_an_independent_library(letter):
    """Referee: pressfit, which gives the deviation next to the line."""
    for size in SIZES_MM:
        for grade in (5, 6, 7):
            found = shaft(size * 1e-3, letter, grade)
            ours = found.upper if letter in "gh" else found.lower
            assert ours * 1e6 == pytest.approx(pressfit.shaft_deviation(size, letter, grade))


def test_holes_h7_are_the_reference_values():
    for case in published("H7_"):
        found = hole(case["inputs"]["d_mm"] * 1e-3, 7)
        assert found.lower * 1e6 == case["expected"]["EI_um"]
        assert found.upper * 1e6 == pytest.approx(case["expected"]["ES_um"], abs=1e-9)


@pytest.mark.parametrize("code", ["H7/g6", "H7/h6", "H7/k6", "H7/m6", "H7/p6"])
def test_fits_are_those_of_an_independent_library(code):
    """Referee: pressfit."""
    for size in (4, 10, 25):
        pin = shaft(size * 1e-3, code[3], int(code[4:]))
        ours = fit(hole(size * 1e-3, 7), pin)
        theirs = pressfit.fit(f"{size} {code}")
        assert ours.name == code
        assert ours.kind == theirs.kind
        least = theirs.hole_ei_um - theirs.shaft_es_um
        most = theirs.hole_es_um - theirs.shaft_ei_um
        assert (ours.least * 1e6, ours.most * 1e6) == pytest.approx((least, most))


def test_general_tolerances_are_the_reference_values():
    middles = {">3-6": 4, ">6-30": 12, ">30-120": 85, ">120-400": 130}
    for case in published("ISO2768_"):
        nominal = middles[case["inputs"]["range_mm"]] * 1e-3
        for grade in "fmc":
            wanted = case["expected"][f"{grade}_mm"]
            assert length_deviation(nominal, grade) * 1e3 == pytest.approx(wanted, abs=1e-9)


def test_the_uncertain_value_is_the_one_that_most_copies_print():
    """REFERENCES: class c, 0.5 to 3 mm, ±0.2, where one copy has ±0.15."""
    assert length_deviation(2e-3, "c") == pytest.approx(0.2e-3)
    assert length_deviation(5e-3, "c") == pytest.approx(0.3e-3)


def test_a_range_ends_with_its_upper_limit():
    assert length_deviation(30e-3, "m") == pytest.approx(0.2e-3)
    assert length_deviation(30.01e-3, "m") == pytest.approx(0.3e-3)
    assert length_deviation(5.0, "m") is None
    assert length_deviation(2e-3, "v") is None
    assert stated(0.5e-3) and not stated(0.3e-3)


def test_coarser_classes_are_never_tighter():
    for nominal in (4e-3, 20e-3, 80e-3, 300e-3, 900e-3):
        row = [length_deviation(nominal, grade) for grade in "fmcv"]
        assert row == sorted(row)
    for leg in (5e-3, 40e-3, 100e-3, 300e-3, 1.0):
        row = [angle_deviation(leg, grade) for grade in "fmcv"]
        assert row == sorted(row)
    assert angle_deviation(40e-3, "m") * 180 / 3.141592653589793 == pytest.approx(0.5)
    with pytest.raises(RequestError, match="f, m, c, v"):
        length_deviation(0.01, "x")
