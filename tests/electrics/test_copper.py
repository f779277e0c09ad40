"""Copper and insulation: against the published tables."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from legwright.electrics.copper import (
    FREEZING,
    copper_mass,
    gauge_area,
    gauge_diameter,
    gauge_number,
    gauge_wire,
    hot_length,
    metric_wire,
    resistance_ratio,
    voltage_drop,
    wire_resistance,
)
from legwright.electrics.insulation import class_temperature, insulation, rated
from legwright.errors import RequestError

Reference = Callable[[str], dict[str, dict]]


def test_resistance_with_temperature(reference: Reference) -> None:
    """IEC 60028:1925, in the 234.5 form."""
    cases = [case for key, case in reference("3_motor").items() if key.startswith("Rcu_")]
    assert len(cases) == 5
    for case in cases:
        ratio = resistance_ratio(case["inputs"]["T_C"] + FREEZING)
        assert ratio == pytest.approx(case["expected"]["R_over_R20_234p5"], rel=1e-8)
        assert ratio == pytest.approx(case["expected"]["R_over_R20"], rel=1e-4)


def test_gauges(reference: Reference) -> None:
    """ASTM B258 and IEC 60028."""
    cases = [case for key, case in reference("4_wire").items() if key.startswith("AWG")]
    assert len(cases) >= 16
    for case in cases:
        gauge, expected = case["inputs"]["awg"], case["expected"]
        tolerance = case["tol_rel"]
        assert gauge_diameter(gauge) * 1e3 == pytest.approx(expected["d_mm"], rel=tolerance)
        assert gauge_area(gauge) * 1e6 == pytest.approx(expected["A_mm2"], rel=tolerance)
        per_km = gauge_wire(gauge).per_metre * 1e3
        assert per_km == pytest.approx(expected["R_ohm_per_km_20C"], rel=tolerance)


def test_metric_wires(reference: Reference) -> None:
    """IEC 60228:2004 tables 1 to 3."""
    seen = 0
    for key, case in reference("4_wire").items():
        if not key.startswith("IEC60228"):
            continue
        area, expected = case["inputs"]["S_mm2"] * 1e-6, case["expected"]
        stiff = "_cl1_" in key
        plain = metric_wire(area, stiff=stiff).per_metre * 1e3
        assert plain == pytest.approx(expected["Rmax20_plain_ohm_km"], rel=1e-12)
        if "Rmax20_tinned_ohm_km" in expected:
            tinned = metric_wire(area, tinned=True).per_metre * 1e3
            assert tinned == pytest.approx(expected["Rmax20_tinned_ohm_km"], rel=1e-12)
        seen += 1
    assert seen == 6


def test_voltage_drop_there_and_back(reference: Reference) -> None:
    """Ohm: dU = 2 L I r."""
    wires = {13.3: metric_wire(1.5e-6), 39.0: metric_wire(0.5e-6), 7.98: metric_wire(2.5e-6)}
    for key in ("Vdrop_10A", "Vdrop_5A", "Vdrop_20A"):
        case = reference("4_wire")[key]
        asked = case["inputs"]
        ohms = wire_resistance(wires[asked["r_ohm_km"]], asked["one_way_m"])
        drop = voltage_drop(asked["I_A"], ohms)
        assert drop == pytest.approx(case["expected"]["dU_V_two_wire"], rel=1e-9)


def test_voltage_drop_through_one_conductor(reference: Reference) -> None:
    """FAA AC 43.13-1B tables 11-7 and 11-8, arithmetic where a row is misprinted."""
    cases = [c for key, c in reference("4_wire").items() if key.startswith("FAA_0.")]
    assert len(cases) == 5
    for case in cases:
        asked, expected = case["inputs"], case["expected"]
        drop = voltage_drop(asked["I_A"], asked["ohm_per_ft"] * asked["ft"])
        assert drop == pytest.approx(expected["VD_V"], rel=1e-9)
        assert drop == pytest.approx(expected["printed"], rel=case["tol_rel"])


def test_hot_length(reference: Reference) -> None:
    """FAA AC 43.13-1B, 11-66."""
    case = reference("4_wire")["FAA_len_60C"]
    length = hot_length(case["inputs"]["L1"], case["inputs"]["T2_C"] + FREEZING)
    assert length == pytest.approx(case["expected"]["L2"], rel=1e-8)


@settings(deadline=None)
@given(st.integers(-3, 39), st.floats(250.0, 450.0), st.floats(0.1, 100.0))
def test_thinner_or_warmer_resists_more(gauge: int, temperature: float, more: float) -> None:
    assert gauge_area(gauge + 1) < gauge_area(gauge)
    wire = gauge_wire(gauge)
    cold, hot = wire_resistance(wire, 1.0, np.array([temperature, temperature + more]))
    assert hot > cold
    assert wire_resistance(gauge_wire(gauge + 1), 1.0, temperature) > cold


def test_gauges_are_read_as_people_write_them() -> None:
    for text in ("20 AWG", "AWG 20", "20", "20awg", 20):
        assert gauge_number(text) == 20
    assert gauge_number("4/0 AWG") == -3
    assert gauge_number("1/0") == 0
    assert gauge_wire("1/0").name == "1/0 AWG"


@pytest.mark.parametrize("gauge", ["41 AWG", "twenty", "", "5/0", "-4", 99, 2.5, True, None])
def test_unknown_gauges_are_refused(gauge: object) -> None:
    with pytest.raises(RequestError, match=r"wire gauge is .* like '20 AWG'"):
        gauge_number(gauge)


def test_unknown_cross_sections_are_refused() -> None:
    with pytest.raises(RequestError, match=r"one of 0\.5, 0\.75, 1, 1\.5"):
        metric_wire(1.2e-6)


def test_mass_of_copper() -> None:
    """IEC 60028: 8.89 g/cm³."""
    assert copper_mass(metric_wire(1e-6), 1.0) == pytest.approx(8.89e-3)


def test_insulation() -> None:
    """UL styles 1007 and 1015; IEC 60085 classes."""
    assert insulation("pvc80").continuous == pytest.approx(80.0 + FREEZING)
    assert insulation("PVC 105").continuous == pytest.approx(105.0 + FREEZING)
    assert [class_temperature(letter) - FREEZING for letter in "AEBFH"] == pytest.approx(
        [105.0, 120.0, 130.0, 155.0, 180.0]
    )
    assert rated("silicone", 423.15).continuous == 423.15
    assert rated("", None).name == "PVC 70"
    with pytest.raises(RequestError, match="silicone"):
        insulation("silicon")
    with pytest.raises(RequestError, match="A, E, B, F or H"):
        class_temperature("Z")
