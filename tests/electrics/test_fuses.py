"""Fuses, stalls and inrush."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from legwright.electrics.ampacity import Surroundings, continuous_current
from legwright.electrics.copper import gauge_wire
from legwright.electrics.faults import inrush, stalls
from legwright.electrics.fuse_curves import (
    FUSE_CURVES,
    earliest_blow,
    fuse_curve,
    latest_blow,
    melting_joule,
)
from legwright.electrics.fuses import (
    carries,
    choose_fuse,
    needed_rating,
    protects,
    survives_inrush,
)
from legwright.electrics.insulation import insulation
from legwright.electrics.overload import adiabatic_time
from legwright.errors import RequestError

Reference = Callable[[str], dict[str, dict]]

ROOM = Surroundings(ambient=298.15)
BLADE = fuse_curve("normal")


def test_three_quarters(reference: Reference) -> None:
    """A rule of the trade: load a fuse to 75 %; other shares on request."""
    case = reference("6_battery")["fuse75"]
    ours = needed_rating(case["inputs"]["I_A"])
    assert ours == pytest.approx(case["expected"]["I_fuse_min_A"])
    assert needed_rating(6.0, loading=0.5) == 12.0


@pytest.mark.parametrize("kind", sorted(FUSE_CURVES))
def test_the_band_of_a_fuse(kind: str) -> None:
    """Rising current, falling time; earliest before latest; 1/I² far out."""
    curve = fuse_curve(kind)
    current = np.geomspace(0.5, 400.0, 400)
    early, late = earliest_blow(curve, 5.0, current), latest_blow(curve, 5.0, current)
    assert (early <= late).all()
    for times in (early, late):
        known = times[np.isfinite(times)]
        assert (np.diff(known) < 0.0).all()
    assert np.isinf(early[current < 5.0 * curve.holds]).all()
    for multiple, time in curve.latest:
        assert latest_blow(curve, 5.0, 5.0 * multiple) == pytest.approx(time)
    far = earliest_blow(curve, 5.0, np.array([200.0, 400.0]))
    assert far[0] == pytest.approx(4.0 * far[1])
    assert 400.0**2 * far[1] == pytest.approx(melting_joule(curve, 5.0))


def test_a_fuse_that_protects_its_wire() -> None:
    """Referees: IEC 60364-4-43's rules, and the adiabatic law for the dead short."""
    wire, cover = gauge_wire(18), insulation("PVC 105")
    proof = protects(BLADE, 5.0, wire, cover, ROOM, fault=300.0)
    assert proof.ok and proof.why == "" and proof.margin > 1.0
    assert proof.ampacity == pytest.approx(float(continuous_current(wire, cover.continuous, ROOM)))
    cold = adiabatic_time(wire.area, 300.0, ROOM.ambient, cover.short_time)
    assert latest_blow(BLADE, 5.0, 300.0) < proof.bear[-1] < cold


def test_a_fuse_larger_than_its_wire_is_told() -> None:
    proof = protects(BLADE, 30.0, gauge_wire(24), insulation("PVC 80"), ROOM, fault=300.0)
    assert not proof.ok and "larger than the wire" in proof.why


def test_a_fuse_that_lets_an_overload_last_is_told() -> None:
    """A quick miniature fuse surely blows from 2.1 times its rating only."""
    wire, cover = gauge_wire(24), insulation("PVC 80")
    ampacity = float(continuous_current(wire, cover.continuous, ROOM))
    proof = protects(fuse_curve("fast"), ampacity, wire, cover, ROOM, fault=300.0)
    assert proof.rating_fits and not proof.overload_fits and "for ever" in proof.why


def test_a_slow_fuse_before_a_thin_wire_is_told() -> None:
    """At four times its rating a time-lag fuse may take 3 s."""
    wire, cover = gauge_wire(30), insulation("PTFE")
    ampacity = float(continuous_current(wire, cover.continuous, ROOM))
    proof = protects(fuse_curve("slow"), 0.65 * ampacity, wire, cover, ROOM, fault=60.0)
    assert proof.rating_fits and proof.overload_fits
    assert not proof.fault_fits and "the fuse may take" in proof.why


@settings(deadline=None)
@given(st.integers(12, 28), st.sampled_from(BLADE.ratings))
def test_a_thinner_wire_is_never_better_protected(gauge: int, rating: float) -> None:
    cover = insulation("PVC 105")
    thick = protects(BLADE, rating, gauge_wire(gauge), cover, ROOM, fault=200.0)
    thin = protects(BLADE, rating, gauge_wire(gauge + 1), cover, ROOM, fault=200.0)
    assert thick.ok or not thin.ok


def test_a_fuse_holds_short_peaks_and_not_long_ones() -> None:
    """Blade fuse, 10 A: 20 A for at least 0.15 s (ISO 8820-3, from memory)."""
    quiet = np.zeros(400)
    short, long = quiet.copy(), quiet.copy()
    short[:10] = 20.0  # 0.1 s
    long[:40] = 20.0  # 0.4 s
    assert carries(BLADE, 10.0, short, 0.01)
    assert not carries(BLADE, 10.0, long, 0.01)
    assert carries(BLADE, 10.0, np.roll(short, 395), 0.01)  # wraps around the cycle's end
    assert carries(BLADE, 10.0, [10.9], 1.0) and not carries(BLADE, 10.0, [11.1], 1.0)


def test_choice_names_what_drove_it() -> None:
    steady = choose_fuse("normal", [6.0], 0.01)
    assert (steady.rating, steady.driver) == (10.0, "continuous current")
    peaks = np.zeros(400)
    peaks[:40] = 20.0
    assert choose_fuse("normal", peaks, 0.01).driver == "peaks of the cycle"
    joule = 0.3 * melting_joule(BLADE, 15.0)
    surge = choose_fuse("normal", [6.0], 0.01, inrush_joule=joule)
    assert (surge.rating, surge.driver) == (15.0, "inrush")
    assert survives_inrush(BLADE, 15.0, joule) and not survives_inrush(BLADE, 10.0, joule)
    with pytest.raises(RequestError, match="up to 40 A"):
        choose_fuse("normal", [100.0], 0.01)
    with pytest.raises(RequestError, match="fast, normal, slow"):
        choose_fuse("huge", [1.0], 0.01)


@settings(deadline=None)
@given(st.floats(5.0, 50.0), st.floats(0.01, 1.0), st.floats(1e-5, 1e-2))
def test_inrush_agrees_with_quadrature(volts: float, ohms: float, farads: float) -> None:
    """Referee: SciPy's quad of the squared exponential."""
    surge = inrush(volts, ohms, farads)
    tau = ohms * farads
    joule = quad(lambda x: (volts / ohms * np.exp(-x)) ** 2, 0.0, 40.0)[0] * tau
    assert surge.peak == pytest.approx(volts / ohms)
    assert surge.joule == pytest.approx(joule, rel=1e-6)
    assert surge.joule * ohms == pytest.approx(surge.heat)


def test_precharge_tames_the_inrush() -> None:
    """Referee: the exponential after the wait, and the energy balance over both stretches."""
    bare, tamed = inrush(12.6, 0.05, 2e-3), inrush(12.6, 0.05, 2e-3, precharge=10.0)
    assert tamed.peak == pytest.approx(12.6 / 10.05)
    left = np.exp(-tamed.wait / tamed.time_constant)
    assert left == pytest.approx(0.05)
    assert tamed.bridged_peak == pytest.approx(12.6 * 0.05 / 0.05)
    slow = quad(lambda t: (12.6 / 10.05 * np.exp(-t / tamed.time_constant)) ** 2, 0.0, tamed.wait)
    fast = quad(lambda x: (12.6 * np.exp(-x)) ** 2, 0.0, 40.0)[0] * 0.05 * 2e-3
    assert tamed.joule == pytest.approx(slow[0] + fast, rel=1e-6)
    assert tamed.joule < 0.02 * bare.joule
    assert np.isinf(inrush(12.6, 0.0, 2e-3).peak)
    with pytest.raises(RequestError, match="capacitance"):
        inrush(12.6, 0.1, 0.0)


def test_stall_cases() -> None:
    nodes = ["pack", "a1", "a2", "b1", "pc"]
    running = np.array([0.0, 0.5, 0.6, 0.7, 1.0])
    stalled = np.array([0.0, 3.0, 4.0, 5.0, 99.0])
    cases = stalls(nodes, running, stalled, {"a": ["a1", "a2"], "b": ["b1"]})
    assert cases.names == ("a1", "a2", "b1", "a", "b", "all servos")
    np.testing.assert_allclose(cases.current[3], [0.0, 3.0, 4.0, 0.7, 1.0])
    np.testing.assert_allclose(cases.current[-1], [0.0, 3.0, 4.0, 5.0, 1.0])
    with pytest.raises(RequestError, match="servo"):
        stalls(nodes, running, stalled, {"a": ["nowhere"]})
