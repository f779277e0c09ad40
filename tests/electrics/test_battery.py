"""Battery and run time: against published curves, Peukert, and an ODE integrator."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from legwright.electrics import runtime
from legwright.electrics.battery import (
    OPEN_VOLTAGE,
    Pack,
    chen_rincon_mora_resistance,
    chen_rincon_mora_voltage,
    current_for_power,
    internal_resistance,
    open_voltage,
    peukert_time,
    peukert_time_one_ampere,
    rate_current,
    state_of_charge,
)
from legwright.electrics.energy import cost_of_transport, energy_per_metre, shared_run_time
from legwright.electrics.runtime import End, discharge
from legwright.errors import RequestError

Reference = Callable[[str], dict[str, dict]]

HOUR = 3600.0


def pack(**changes: object) -> Pack:
    data: dict = {
        "chemistry": "lithium-polymer",
        "series": 3,
        "parallel": 2,
        "capacity": 5.0 * HOUR,
        "cell_resistance": 0.02,
        "cell_cutoff": 3.3,
    }
    return Pack(**(data | changes))


def test_chen_and_rincon_mora(reference: Reference) -> None:
    """IEEE Trans. Energy Conversion 21 (2006) 504, square term with a minus."""
    cases = [c for key, c in reference("6_battery").items() if key.startswith("ChenRM")]
    assert len(cases) == 11
    for case in cases:
        soc, expected = case["inputs"]["soc"], case["expected"]
        assert chen_rincon_mora_voltage(soc) == pytest.approx(expected["Voc_V"], rel=1e-8)
        assert chen_rincon_mora_resistance(soc) == pytest.approx(expected["Rseries_ohm"], rel=1e-8)


@pytest.mark.parametrize(
    ("chemistry", "key"),
    [("lithium-polymer", "pybamm_Ai2020"), ("lithium-ion", "pybamm_Chen2020")],
)
def test_open_circuit_curves(reference: Reference, chemistry: str, key: str) -> None:
    """Ai et al., J. Electrochem. Soc. 167:013512; Chen et al., 167:080534 (2020)."""
    for soc, volts in reference("6_battery")[key]["expected"]["ocv"].items():
        ours = open_voltage(pack(chemistry=chemistry, series=4), float(soc))
        assert ours == pytest.approx(4 * volts, rel=1e-9)


@pytest.mark.parametrize("chemistry", sorted(OPEN_VOLTAGE))
def test_curves_rise_and_invert(chemistry: str) -> None:
    cells = pack(chemistry=chemistry, cell_cutoff=2.6)
    soc = np.linspace(0.0, 1.0, 301)
    volts = open_voltage(cells, soc)
    assert (np.diff(volts) > 0.0).all()
    np.testing.assert_allclose(state_of_charge(cells, volts), soc, atol=1e-9)


def test_full_and_nominal_pack_voltages(reference: Reference) -> None:
    """Common practice: 4.2 V full, 3.7 V nominal, and the curve's middle half within 0.1 V."""
    case = reference("6_battery")["lipo_pack"]
    for cells, full, nominal in zip(
        case["inputs"]["cells"],
        case["expected"]["full_V"],
        case["expected"]["nominal_V"],
        strict=True,
    ):
        stack = pack(series=cells)
        assert open_voltage(stack, 1.0) == pytest.approx(full)
        assert open_voltage(stack, 0.3) == pytest.approx(nominal, abs=0.1 * cells)


def test_peukert(reference: Reference) -> None:
    """Peukert 1897, both forms, which are not the same."""
    seen = 0
    for key, case in reference("6_battery").items():
        asked, expected = case["inputs"], case["expected"]
        if key.startswith("Peukert_1A"):
            hours = asked["Cp_Ah"] / asked["I_A"] ** asked["k"]
            ours = peukert_time_one_ampere(asked["Cp_Ah"] * HOUR, asked["I_A"], asked["k"]) / HOUR
            assert ours == pytest.approx(expected["t_h"], rel=1e-8)
            assert hours == pytest.approx(expected["t_h"], rel=1e-8)
        elif key.startswith("Peukert"):
            ours = peukert_time(asked["C_Ah"] * HOUR, asked["H_h"] * HOUR, asked["I_A"], asked["k"])
            assert ours / HOUR == pytest.approx(expected["t_h"], rel=1e-8)
        else:
            continue
        seen += 1
    assert seen == 6


def test_current_of_a_c_rate(reference: Reference) -> None:
    """Common practice: I = C · A·h."""
    case = reference("6_battery")["c_rate"]
    ours = rate_current(case["inputs"]["Ah"] * HOUR, case["inputs"]["C"])
    assert ours == pytest.approx(case["expected"]["I_A"])


def test_resistance_of_cells_in_series_and_parallel() -> None:
    """Referee: series adds, parallel divides; Arrhenius in the cold."""
    assert internal_resistance(pack(), 1.0) == pytest.approx(3 * 0.02 / 2, rel=1e-9)
    assert internal_resistance(pack(), 0.0) > internal_resistance(pack(), 0.5)
    cold, warm = (float(internal_resistance(pack(), 0.5, t)) for t in (273.15, 298.15))
    assert cold / warm == pytest.approx(np.exp(20e3 / 8.314462618 * (1 / 273.15 - 1 / 298.15)))


@settings(deadline=None)
@given(st.floats(5.0, 50.0), st.floats(0.0, 1.0), st.floats(0.0, 0.9999))
def test_current_for_power_gives_that_power(volts: float, ohms: float, share: float) -> None:
    power = share * (100.0 if ohms == 0.0 else min(volts**2 / (4.0 * ohms), 1e4))
    current = float(current_for_power(volts, ohms, power))
    assert current * (volts - ohms * current) == pytest.approx(power, rel=1e-7, abs=1e-9)


def test_no_current_gives_more_than_the_largest_power() -> None:
    assert np.isnan(current_for_power(12.0, 0.5, 72.1))


def ode(cells: Pack, watts: np.ndarray, resistance: float = 0.0) -> tuple[float, float]:
    """Time to cut-off and energy at the terminals by SciPy's solve_ivp."""

    def currents(soc: float) -> tuple[np.ndarray, float, float]:
        volts = float(open_voltage(cells, soc))
        ohms = float(internal_resistance(cells, soc))
        total = ohms + resistance
        return (volts - np.sqrt(volts**2 - 4 * total * watts)) / (2 * total), volts, ohms

    def rate(_: float, state: np.ndarray) -> list[float]:
        amps, volts, ohms = currents(float(state[0]))
        return [-amps.mean() / cells.capacity, float(((volts - ohms * amps) * amps).mean())]

    def low(_: float, state: np.ndarray) -> float:
        amps, volts, ohms = currents(float(state[0]))
        return volts - ohms * amps.max() - cells.cutoff

    low.terminal = True  # type: ignore[attr-defined]
    run = solve_ivp(rate, (0.0, 1e6), [1.0, 0.0], events=low, rtol=1e-8, max_step=60.0)
    return float(run.t[-1]), float(run.y[1, -1])


@pytest.mark.parametrize("watts", [[20.0], [20.0, 90.0, 5.0, 0.0]])
def test_run_time_agrees_with_an_ode_integrator(watts: list[float]) -> None:
    """Referee: SciPy's solve_ivp with an event at cut-off, square root written out there."""
    time, energy = ode(pack(), np.array(watts), 0.03)
    ours = discharge(pack(), watts, resistance=0.03)
    assert ours.end is End.CUTOFF
    assert ours.time == pytest.approx(time, rel=2e-4)
    assert ours.energy == pytest.approx(energy, rel=2e-4)


@given(st.floats(0.004, 3.0), st.floats(0.0, 1.0), st.integers(1, 40))
def test_means_from_roots_are_those_of_the_currents(share: float, swing: float, count: int) -> None:
    """Also where the heaviest samples are more than the pack can give."""
    soc = np.linspace(1.0, 0.1, 200)
    volts, ohms = open_voltage(pack(), soc), internal_resistance(pack(), soc) + 0.03
    most = volts * volts / (4.0 * ohms)
    waves = 1.0 + swing * np.sin(np.linspace(0.0, 2.0 * np.pi, count, endpoint=False))
    watts = share * most.max() * waves
    found = runtime._cycle_means(volts, ohms, watts)
    power = np.minimum(watts, (1.0 - 1e-12) * most[:, None])
    i = current_for_power(volts[:, None], ohms[:, None], power)
    near = 1e-5 if watts.max() > most.min() else 1e-9  # at the nose a root of 1e-12 shows
    np.testing.assert_allclose(found[0], i.mean(axis=1), rtol=near)
    np.testing.assert_allclose(found[1], (i * i).mean(axis=1), rtol=near)


def test_energy_of_a_discharge_is_conserved() -> None:
    """Referee: ∫ U_oc dQ between both states of charge = energy given + heat in the cells."""
    cells = pack()
    ours = discharge(cells, [10.0, 60.0])
    soc = np.linspace(ours.left, 1.0, 20001)
    stored = cells.capacity * np.trapezoid(open_voltage(cells, soc), soc)
    assert ours.energy + ours.lost == pytest.approx(float(stored), rel=1e-5)
    assert ours.charge == pytest.approx(cells.capacity * (1.0 - ours.left))


def test_a_gentle_load_uses_the_charge_up() -> None:
    ours = discharge(pack(cell_cutoff=2.5), 0.5, reserve=0.2)
    assert ours.end is End.EMPTY
    assert ours.left == pytest.approx(0.2)
    assert ours.charge == pytest.approx(0.8 * 5.0 * HOUR)


def test_ends_of_a_discharge() -> None:
    assert discharge(pack(), 0.0).end is End.NO_LOAD
    assert np.isinf(discharge(pack(), [0.0, 0.0]).time)
    too_much = discharge(pack(), 5000.0)
    assert too_much.end is End.TOO_MUCH and too_much.time == 0.0
    heavy = discharge(pack(cell_cutoff=4.1), 200.0)
    assert heavy.end is End.CUTOFF and heavy.time == 0.0
    with pytest.raises(RequestError, match="reserve and start"):
        discharge(pack(), 5.0, start=0.2, reserve=0.5)
    with pytest.raises(RequestError, match="power"):
        discharge(pack(), [-1.0])


@settings(deadline=None)
@given(st.floats(1.0, 100.0), st.floats(1.01, 3.0))
def test_more_power_never_runs_longer(watts: float, times: float) -> None:
    assert discharge(pack(), watts * times).time < discharge(pack(), watts).time


def test_packs_that_cannot_be_are_refused() -> None:
    with pytest.raises(RequestError, match="lithium-polymer"):
        pack(chemistry="lithium-polymers")
    with pytest.raises(RequestError, match="cut-off"):
        pack(cell_cutoff=4.5)
    with pytest.raises(RequestError, match="cells"):
        pack(series=0)


def test_energy_per_metre_and_cost_of_transport() -> None:
    """Referee: by hand, 20 W at 0.1 m/s and 2.5 kg; Gabrielli and von Kármán 1950."""
    assert energy_per_metre(20.0, 0.1) == pytest.approx(200.0)
    assert energy_per_metre(20.0, -0.1) == pytest.approx(200.0)
    assert np.isinf(energy_per_metre(20.0, 0.0))
    assert cost_of_transport(20.0, 2.5, 0.1) == pytest.approx(200.0 / (2.5 * 9.80665))
    assert shared_run_time(9000.0, {"stand": (0.5, 10.0), "walk": (0.5, 20.0)}) == 600.0
    with pytest.raises(RequestError, match="adding up"):
        shared_run_time(9000.0, {"stand": (0.5, 10.0)})
