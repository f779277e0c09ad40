"""Winding heat against published cases, an ODE solver, and the energy balance."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from legwright.mechanics.heat import (
    COPPER_COEFFICIENT,
    continuous_current,
    copper_factor,
    runaway_current,
    steady_temperature,
    temperature_after,
    time_to_rise,
    time_to_temperature,
    warm_up,
    winding_heat,
)

CELSIUS = 273.15


@pytest.mark.parametrize("name", ["Rcu_-20C", "Rcu_20C", "Rcu_25C", "Rcu_60C", "Rcu_155C"])
def test_copper_resistance(motor_case, name):
    """IEC 60028:1925, α20 = 0.00393/K; the 234.5 form agrees to 1e-4."""
    case = motor_case(name)
    factor = float(copper_factor(case["inputs"]["T_C"] + CELSIUS))
    assert factor == pytest.approx(case["expected"]["R_over_R20"], rel=1e-9)
    assert factor == pytest.approx(case["expected"]["R_over_R20_234p5"], abs=1e-4)


@pytest.mark.parametrize("name", ["thermal_10s", "thermal_60s", "thermal_90s"])
def test_first_order_warming(motor_case, name):
    """First-order lumped winding model, textbook values."""
    given = motor_case(name)["inputs"]
    rise = warm_up(given["P_W"] * given["Rth_K_per_W"], given["t_s"], given["tau_s"])
    assert float(rise) == pytest.approx(motor_case(name)["expected"]["dT_K"], rel=1e-8)


def test_time_to_limit_of_constant_heat(motor_case):
    """t = τ ln(ΔT∞ / (ΔT∞ - ΔT_limit)), textbook value 20.7944154 s."""
    case = motor_case("thermal_time_to_limit")
    given = case["inputs"]
    time = time_to_rise(given["dT_inf_K"], given["dT_limit_K"], given["tau_s"])
    assert float(time) == pytest.approx(case["expected"]["t_s"], rel=1e-8)


def test_steady_temperature_with_copper_rise():
    """Published case: 1.5 A, 2 Ω, 10 K/W from 20 °C settles 54.6680435 K higher."""
    settled = steady_temperature(1.5**2, 2.0, 10.0, 293.15)
    assert float(settled) - 293.15 == pytest.approx(54.6680435, rel=1e-8)


def test_runaway_current():
    """Published case: 2 Ω, 10 K/W run away at 3.56688188 A; just above, no steady state."""
    limit = float(runaway_current(2.0, 10.0))
    assert limit == pytest.approx(3.56688188, rel=1e-8)
    below, above = steady_temperature(np.array([0.999, 1.001]) * limit**2, 2.0, 10.0, 293.15)
    assert np.isfinite(below)
    assert np.isposinf(above)


@pytest.mark.parametrize("current", [0.8, 1.9, 3.5, runaway_current(1.7, 9.0), 5.0])
def test_time_to_temperature_against_an_ode_solver(current):
    """Referee: scipy solve_ivp of tau dT/dt = P(T) Rth - (T - ambient), runaway included."""
    ambient, limit, resistance, rth, tau = 308.15, 358.15, 1.7, 9.0, 240.0

    def rate(_, temperature):
        heat = winding_heat(current, resistance, temperature)
        return (heat * rth - (temperature - ambient)) / tau

    def hot(_, temperature):
        return temperature[0] - limit

    hot.terminal = True
    run = solve_ivp(rate, (0.0, 20_000.0), [ambient], events=hot, rtol=1e-10, atol=1e-10)
    ours = float(
        time_to_temperature(float(current) ** 2, resistance, rth, tau, limit=limit, ambient=ambient)
    )
    if run.t_events[0].size:
        assert ours == pytest.approx(run.t_events[0][0], rel=1e-6)
        back = temperature_after(
            float(current) ** 2, resistance, rth, tau, time=ours, ambient=ambient
        )
        assert float(back) == pytest.approx(limit, rel=1e-9)
    else:
        assert ours == np.inf
        settled = float(steady_temperature(float(current) ** 2, resistance, rth, ambient))
        assert settled == pytest.approx(run.y[0, -1], rel=1e-6)


def test_time_from_a_warm_start():
    """Warming from ambient to a limit takes as long as to a way mark and from there on."""
    given = dict(limit=358.15, ambient=298.15)
    whole = time_to_temperature(4.0, 2.0, 12.0, 200.0, **given)
    first = time_to_temperature(4.0, 2.0, 12.0, 200.0, limit=330.0, ambient=298.15)
    rest = time_to_temperature(4.0, 2.0, 12.0, 200.0, start=330.0, **given)
    assert float(first + rest) == pytest.approx(float(whole), rel=1e-12)
    assert float(time_to_temperature(4.0, 2.0, 12.0, 200.0, start=360.0, **given)) == 0.0


def test_temperature_after_against_an_ode_solver():
    """Referee: scipy solve_ivp, from a warm start, settling and running away."""
    for current in (1.2, 4.5):

        def rate(_, temperature, current=current):
            return (winding_heat(current, 1.7, temperature) * 9.0 - (temperature - 300.0)) / 240.0

        run = solve_ivp(rate, (0.0, 700.0), [320.0], rtol=1e-11, atol=1e-11)
        ours = temperature_after(
            current**2, 1.7, 9.0, 240.0, time=700.0, ambient=300.0, start=320.0
        )
        assert float(ours) == pytest.approx(run.y[0, -1], rel=1e-8)


def test_cooling_below_a_limit_never_reaches_it():
    """A winding that starts warm and settles lower does not come back up to a limit above."""
    time = time_to_temperature(0.25, 2.0, 10.0, 200.0, limit=350.0, ambient=298.15, start=340.0)
    assert float(time) == np.inf


def test_continuous_current_settles_at_the_limit():
    """Steady temperature at the continuous current is the limit: the same balance read back."""
    rng = np.random.default_rng(3)
    resistance, rth = rng.uniform(0.3, 6.0, 50), rng.uniform(3.0, 20.0, 50)
    limit, ambient = rng.uniform(350.0, 450.0, 50), rng.uniform(270.0, 320.0, 50)
    current = continuous_current(resistance, rth, limit, ambient)
    settled = steady_temperature(current**2, resistance, rth, ambient)
    np.testing.assert_allclose(settled, limit, rtol=1e-10)
    assert float(continuous_current(2.0, 10.0, 310.0, 320.0)) == 0.0


def test_unknown_stays_unknown():
    """nan in, nan out: nothing is made up."""
    assert np.isnan(steady_temperature(np.nan, 2.0, 10.0, 298.15))
    assert np.isnan(time_to_temperature(4.0, 2.0, np.nan, 200.0, limit=350.0, ambient=298.15))
    assert COPPER_COEFFICIENT == 0.00393
