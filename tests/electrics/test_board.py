"""Hub copper and contacts: published widths, resistances, and closed limits."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from legwright.electrics.board import (
    COPPER_CONDUCTIVITY,
    IPC_OUNCE,
    MIL,
    OUNCE,
    Board,
    Track,
    board_conductance,
    drilled_via_area,
    ipc_current,
    ipc_rise,
    ipc_width,
    sheet_resistance,
    track_resistance,
    track_rise,
    via_area,
    via_resistance,
    vias_needed,
)
from legwright.electrics.contacts import (
    Contact,
    check_fit,
    derated_current,
    heat,
    pair_resistance,
    temperature_rise,
    terminal_for,
)
from legwright.electrics.copper import gauge_wire, metric_wire
from legwright.errors import RequestError

Reference = Callable[[str], dict[str, dict]]


def test_ipc_widths(reference: Reference) -> None:
    """IPC-2221 section 6.2."""
    cases = {k: c for k, c in reference("5_pcb").items() if k.startswith("IPC2221")}
    assert len(cases) == 5
    for key, case in cases.items():
        asked, expected = case["inputs"], case["expected"]
        thickness = asked["oz"] * IPC_OUNCE
        width = ipc_width(asked["I_A"], asked["dT_K"], thickness, inner="_int_" in key)
        assert width * 1e3 == pytest.approx(expected["width_mm"], rel=1e-6)
        area = width * thickness
        assert area / MIL**2 == pytest.approx(expected["A_mil2"], rel=1e-6)
        back = ipc_current(area, asked["dT_K"], inner="_int_" in key)
        assert back == pytest.approx(asked["I_A"], rel=1e-9)
        assert ipc_rise(asked["I_A"], area, inner="_int_" in key) == pytest.approx(asked["dT_K"])


def test_sheet_and_track_resistance(reference: Reference) -> None:
    """ρ / t and ρ L / (w t); IEC 60028."""
    cases = reference("5_pcb")
    for key in ("Rsq_35.0um", "Rsq_34.3um", "Rsq_70.0um"):
        ours = sheet_resistance(cases[key]["inputs"]["t_m"]) * 1e3
        assert ours == pytest.approx(cases[key]["expected"]["R_sq_mohm"], rel=1e-6)
    assert pytest.approx(cases["oz_thickness"]["expected"]["t_um"], rel=1e-8) == OUNCE * 1e6
    asked = cases["trace_R"]["inputs"]
    track = Track(width=asked["w_m"], thickness=asked["t_m"])
    ours = track_resistance(track, asked["L_m"], rho=asked["rho"]) * 1e3
    assert ours == pytest.approx(cases["trace_R"]["expected"]["R_mohm"], rel=1e-6)
    squares = sheet_resistance(35e-6) * 200.0
    assert track_resistance(Track(width=5e-4, thickness=35e-6), 0.1) == pytest.approx(squares)


def test_via(reference: Reference) -> None:
    """Finished hole: π (d + t) t; IPC-2221's fit for its current."""
    case = reference("5_pcb")["via"]
    asked, expected = case["inputs"], case["expected"]
    hole, plating = asked["finished_hole_m"], asked["plating_m"]
    assert via_area(hole, plating) * 1e6 == pytest.approx(expected["A_mm2"], rel=1e-6)
    assert drilled_via_area(hole + 2 * plating, plating) == pytest.approx(via_area(hole, plating))
    ohms = via_resistance(hole, plating, asked["length_m"], rho=asked["rho"])
    assert ohms * 1e3 == pytest.approx(expected["R_mohm"], rel=1e-6)
    each = ipc_current(via_area(hole, plating), asked["dT_K"])
    assert each == pytest.approx(expected["I_A"], rel=1e-6)
    assert vias_needed(3 * each, asked["dT_K"], hole, plating) == 3
    assert vias_needed(3.001 * each, asked["dT_K"], hole, plating) == 4


def test_heat_balance_of_a_wide_strip() -> None:
    """Limit: no board beside the track: I² R' = 2 h w ΔT, copper's rise included."""
    track = Track(width=20e-3, thickness=70e-6)
    alone = Board(margin=0.0)
    rise = float(track_rise(track, 20.0, alone, 298.15))
    ohms = float(track_resistance(track, 1.0, 298.15 + rise))
    assert 400.0 * ohms == pytest.approx(2.0 * 10.0 * 20e-3 * rise, rel=1e-9)


def test_heat_balance_agrees_with_a_boundary_value_solver() -> None:
    """Referee: SciPy's solve_bvp on the board beside the track, k b T'' = 2 h T, cold loss at
    the far edge left out."""
    track, margin = Track(width=2e-3, thickness=35e-6), 15e-3
    board = Board(margin=margin, plane=10e-6)
    spread = board.conductivity * board.thickness + COPPER_CONDUCTIVITY * board.plane
    x = np.linspace(0.0, margin, 50)
    run = solve_bvp(
        lambda _, y: np.vstack([y[1], 2.0 * board.loss / spread * y[0]]),
        lambda a, b: np.array([a[0] - 1.0, b[1]]),
        x,
        np.vstack([np.ones(50), np.zeros(50)]),
        tol=1e-8,
    )
    exact = 2.0 * -spread * run.sol(0.0)[1] + 2.0 * board.loss * track.width
    assert board_conductance(track, board) == pytest.approx(float(exact), rel=1e-5)


@pytest.mark.parametrize("current", [2.0, 5.0, 10.0])
def test_heat_balance_and_ipc_agree_on_a_bare_board(current: float) -> None:
    """Two independent estimates for an outer track without planes, within a factor of two."""
    width = ipc_width(current, 20.0, 2 * IPC_OUNCE)
    rise = track_rise(Track(width=width, thickness=2 * IPC_OUNCE), current, Board(), 298.15)
    assert 10.0 < rise < 40.0


def test_a_track_runs_away() -> None:
    assert np.isinf(track_rise(Track(width=1e-3, thickness=35e-6), 200.0, Board(), 298.15))


@settings(deadline=None)
@given(st.floats(0.1, 40.0), st.floats(1.0, 60.0), st.floats(1.05, 4.0))
def test_wider_for_more_current_and_less_rise(current: float, rise: float, more: float) -> None:
    width = ipc_width(current, rise, 35e-6)
    assert ipc_width(current * more, rise, 35e-6) > width
    assert ipc_width(current, rise * more, 35e-6) < width
    assert ipc_width(current, rise, 35e-6 * more) == pytest.approx(width / more)


PLUG = Contact(name="plug", rating=5.0, resistance=0.01, smallest=0.2e-6, largest=0.52e-6)


def test_contacts() -> None:
    """Referee: square law through the rated point; Ohm and Joule."""
    assert temperature_rise(PLUG, 5.0) == pytest.approx(30.0)
    assert temperature_rise(PLUG, 2.5) == pytest.approx(7.5)
    assert derated_current(PLUG, 298.15) == pytest.approx(5.0)
    hot = PLUG.highest - 7.5
    assert derated_current(PLUG, hot) == pytest.approx(2.5)
    assert derated_current(PLUG, PLUG.highest + 1.0) == 0.0
    assert heat(PLUG, 5.0) == pytest.approx(0.25)
    assert pair_resistance(PLUG) == pytest.approx(0.02)
    assert pair_resistance(PLUG, parallel=2) == pytest.approx(0.01)


def test_wires_that_do_not_fit_are_refused() -> None:
    check_fit(PLUG, gauge_wire(20))
    with pytest.raises(
        RequestError, match=r"wire 16 AWG \(1.31 mm²\) in terminal plug is 'too thick'"
    ):
        check_fit(PLUG, gauge_wire(16))
    with pytest.raises(RequestError, match="too thin"):
        check_fit(PLUG, gauge_wire(30))


def test_crimp_terminals() -> None:
    """Common practice: red 0.5 to 1.5, blue 1.5 to 2.5, yellow 4 to 6 mm²."""
    assert terminal_for(metric_wire(0.75e-6)) == "red"
    assert terminal_for(gauge_wire(20)) == "red"
    assert terminal_for(metric_wire(2.5e-6)) == "blue"
    assert terminal_for(metric_wire(4e-6)) == "yellow"
    with pytest.raises(RequestError, match="within red"):
        terminal_for(metric_wire(16e-6))
