"""Servo line and currents against published motor cases and conservation of energy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from legwright.mechanics.drive import backdrive_efficiency, doubts, drive_of
from legwright.mechanics.heat import copper_factor, steady_temperature
from legwright.mechanics.servo_current import AT_REST, supply_current, winding_current
from legwright.mechanics.servo_line import (
    available_torque,
    continuous_torque,
    no_load_speed,
    peak_torque,
)
from legwright.robot.servo import Servo, from_urdf


def motor_as_servo(volts: float, ohms: float, k: float, friction: float = 0.0) -> Servo:
    """The stated line of an ideal motor without gear."""
    return Servo.model_construct(
        stall_torque=k * (volts / ohms - friction),
        no_load_speed=(volts - friction * ohms) / k,
        rated_voltage=volts,
        stall_current=volts / ohms,
        no_load_current=friction,
        gear_efficiency=1.0,
    )


LARK = Servo(
    id="lark",
    stall_torque="2.2 N*m",
    no_load_speed="6 rad/s",
    rated_voltage="7.4 V",
    stall_current="2.6 A",
    no_load_current="0.2 A",
    idle_current="20 mA",
    thermal_resistance="9 K/W",
    thermal_time="240 s",
    highest_winding="85 degC",
)  # invented


def test_linear_law(motor_case):
    """MIT 2.007 motor notes: half speed, half stall torque, half stall current, η = 50 %."""
    case = motor_case("linear")
    want = case["expected"]
    servo = motor_as_servo(
        case["inputs"]["U_V"], case["inputs"]["R_ohm"], case["inputs"]["k_Nm_per_A"]
    )
    one = drive_of(servo)
    assert servo.no_load_speed == pytest.approx(want["no_load_rad_s"], rel=1e-12)
    assert float(one.resistance) == pytest.approx(2.0, rel=1e-12)
    assert float(one.torque_constant) == pytest.approx(0.02, rel=1e-12)
    torque = available_torque(servo, want["at_speed_rad_s"], 12.0)
    assert float(torque) == pytest.approx(want["at_torque_Nm"], rel=1e-12)
    current = winding_current(servo, torque, want["at_speed_rad_s"])
    assert float(current) == pytest.approx(want["at_current_A"], rel=1e-12)
    power = float(torque) * want["at_speed_rad_s"]
    assert power == pytest.approx(want["P_max_W"], rel=1e-12)
    drawn = 12.0 * float(supply_current(servo, current, want["at_speed_rad_s"], 12.0))
    assert power / drawn == pytest.approx(want["efficiency_at_Pmax"], rel=1e-12)


def test_greatest_efficiency(motor_case):
    """(1 - √(I0/Is))² at √(I0 Is), searched along our line; formula from memory."""
    case = motor_case("eta_max")
    servo = motor_as_servo(12.0, 2.0, 0.02, friction=case["inputs"]["I0_A"])
    speed = np.linspace(300.0, 585.0, 200_001)
    torque = available_torque(servo, speed, 12.0)
    current = winding_current(servo, torque, speed)
    efficiency = torque * speed / (12.0 * supply_current(servo, current, speed, 12.0))
    best = int(np.argmax(efficiency))
    assert efficiency[best] == pytest.approx(case["expected"]["eta_max"], rel=1e-8)
    assert current[best] == pytest.approx(case["expected"]["I_opt_A"], rel=1e-4)


def test_gear_chain():
    """0.05 N·m through 100:1 in three stages of 0.9 gives 3.645 N·m (textbook)."""
    k, ratio, efficiency = 0.05, 100.0, 0.9**3
    servo = Servo.model_construct(
        stall_torque=k * ratio * efficiency * 6.0,
        no_load_speed=12.0 / (k * ratio),
        rated_voltage=12.0,
        stall_current=6.0,
        gear_ratio=ratio,
        gear_efficiency=efficiency,
    )
    one = drive_of(servo)
    assert float(one.torque_constant) == pytest.approx(3.645, rel=1e-12)
    assert float(one.torque_constant / one.emf_constant) == pytest.approx(0.729, rel=1e-12)
    assert backdrive_efficiency(servo) == pytest.approx(2.0 - 1.0 / 0.729, rel=1e-12)


def test_both_ends_of_the_makers_line_are_met():
    """Stall and no load at rated voltage give back the four stated numbers."""
    assert float(peak_torque(LARK, 7.4)) == pytest.approx(2.2)
    assert float(available_torque(LARK, 6.0, 7.4)) == pytest.approx(0.0, abs=1e-12)
    stalled = winding_current(LARK, 2.2, 1e-9)
    assert float(supply_current(LARK, winding_current(LARK, 2.2, 0.1), 0.0)) == pytest.approx(2.6)
    assert float(stalled) < float(winding_current(LARK, 2.2, 0.1))
    idle = winding_current(LARK, 0.0, 6.0)
    assert float(supply_current(LARK, idle, 6.0)) == pytest.approx(0.2)


@pytest.mark.parametrize("volts", [5.0, 6.0, 7.4, 8.4])
def test_line_at_another_voltage_against_the_circuit(volts):
    """Referee: at the line's torque the winding takes exactly (V - k_e ω) / R, full duty."""
    speed = np.linspace(0.1, float(no_load_speed(LARK, volts)), 40)
    strong = LARK.model_copy(update={"peak_torque": 9.0})
    one = drive_of(strong)
    current = winding_current(one, available_torque(one, speed, volts), speed)
    np.testing.assert_allclose(current, (volts - one.emf_constant * speed) / one.resistance)
    np.testing.assert_allclose(
        supply_current(one, current, speed, volts), current + 0.02, rtol=1e-12
    )


def test_warm_winding_gives_less_and_the_circuit_agrees():
    """At 85 °C copper has 1.255 times its resistance; the line falls accordingly."""
    one = drive_of(LARK.model_copy(update={"peak_torque": 9.0}))
    warm = 358.15
    torque = available_torque(one, 2.0, 7.4, winding=warm)
    current = (7.4 - one.emf_constant * 2.0) / (one.resistance * copper_factor(warm))
    assert float(winding_current(one, torque, 2.0)) == pytest.approx(float(current))


def test_driven_servo_brakes_up_to_its_stall_torque():
    """While the load drives, the line does not bind; beyond no-load speed it still brakes."""
    assert float(available_torque(LARK, 5.0, 7.4, driven=True)) == pytest.approx(2.2)
    assert float(available_torque(LARK, 7.0, 7.4)) == 0.0
    assert float(available_torque(LARK, 7.0, 7.4, driven=True)) == pytest.approx(2.2)


def test_peak_torque_caps_the_line():
    """A stated peak torque below stall binds at low speed only."""
    capped = LARK.model_copy(update={"peak_torque": 1.5})
    speed = np.linspace(-6.0, 6.0, 49)
    np.testing.assert_allclose(
        available_torque(capped, speed, 7.4),
        np.minimum(available_torque(LARK, speed, 7.4), 1.5),
    )


def test_servo_resets_below_its_lowest_voltage():
    """No torque, driving or driven, below the voltage at which the servo resets."""
    weak = LARK.model_copy(update={"lowest_voltage": 6.0})
    assert float(available_torque(weak, 0.0, 5.9)) == 0.0
    assert float(available_torque(weak, 0.0, 6.1)) > 1.0


def test_servo_of_a_bare_urdf_is_flat():
    """Constant torque up to the speed limit, whatever the voltage; currents unknown."""
    servo = from_urdf(3.0, 4.0)
    np.testing.assert_array_equal(
        available_torque(servo, [-4.0, 0.0, 3.9, 4.1], 1.0), [3.0, 3.0, 3.0, 0.0]
    )
    assert np.isnan(winding_current(servo, 1.0, 1.0))
    assert np.isnan(continuous_torque(servo))


@given(
    torque=st.floats(-2.0, 2.0),
    speed=st.floats(-5.0, 5.0) | st.floats(-0.01, 0.01),
    efficiency=st.floats(0.3, 1.0),
    volts=st.floats(5.0, 8.4),
)
def test_no_energy_from_nothing(torque, speed, efficiency, volts):
    """First law: supply power minus idle, copper heat and shaft power leaves a loss ≥ 0.

    Within the band of rest the cautious holding current stands in the books, so there the
    law holds to that band's share of the power only.
    """
    one = drive_of(LARK.model_copy(update={"gear_efficiency": efficiency}))
    current = winding_current(one, torque, speed)
    supply = supply_current(one, current, speed, volts, returns=True) - one.idle_current
    loss = volts * supply - one.resistance * current**2 - torque * speed
    band = AT_REST * LARK.no_load_speed
    assert float(loss) >= -1e-9 - (band * abs(torque) if abs(speed) < band else 0.0)
    burnt = supply_current(one, current, speed, volts)
    assert float(burnt) >= float(one.idle_current)


@given(torque=st.floats(-2.0, 2.0), speed=st.floats(-5.0, 5.0))
def test_current_is_odd(torque, speed):
    """Turning everything round turns the current round."""
    forth, back = winding_current(LARK, torque, speed), winding_current(LARK, -torque, -speed)
    assert float(forth) == pytest.approx(-float(back), abs=1e-12)


def test_holding_lies_between_lifting_and_lowering():
    """Friction adds while lifting, helps while lowering; at rest the current is between."""
    lift, hold, lower = (float(winding_current(LARK, 1.0, w)) for w in (1.0, 0.0, -1.0))
    assert lower < hold < lift
    assert lift - hold == pytest.approx(0.18)
    assert hold - lower > lift - hold  # nearer to lifting: the cautious side


def test_gear_that_holds_by_itself():
    """Below one half efficiency nothing of the load reaches the motor (textbook)."""
    worm = LARK.model_copy(update={"gear_efficiency": 0.4})
    assert backdrive_efficiency(worm) == 0.0
    assert float(winding_current(worm, 1.0, -1.0)) == pytest.approx(-0.18)


def test_continuous_torque_settles_at_the_limit():
    """Held for ever in any ambient, the winding ends at its highest temperature."""
    for ambient in (273.15, 298.15, 313.15):
        torque = float(continuous_torque(LARK, ambient))
        current = float(winding_current(LARK, torque, 0.0))
        one = drive_of(LARK)
        settled = steady_temperature(current**2, one.resistance, one.thermal_resistance, ambient)
        assert float(settled) == pytest.approx(358.15, rel=1e-9)


def test_stated_continuous_torque():
    """Stated at 25 °C, carried to another ambient at equal winding temperature."""
    stated = LARK.model_copy(update={"continuous_torque": 0.9, "thermal_resistance": None})
    assert float(continuous_torque(stated)) == pytest.approx(0.9)
    one = drive_of(stated)
    warm = float(continuous_torque(stated, 313.15))
    current = float(winding_current(stated, warm, 0.0))
    settled = steady_temperature(current**2, one.resistance, one.thermal_resistance, 313.15)
    assert float(settled) == pytest.approx(358.15, rel=1e-9)
    assert "thermal_resistance follows" in " ".join(doubts(stated))


def test_doubts_name_a_sheet_that_makes_energy():
    """A line above its own electrical power is said to contradict itself."""
    assert "times what stall current" in doubts(LARK.model_copy(update={"stall_torque": 4.0}))[0]
    assert doubts(LARK) == ()
    bold = LARK.model_copy(update={"continuous_torque": 1.9})  # heat allows 1.25 N·m at 25 °C
    assert "continuous_torque is stated as 1.9" in doubts(bold)[0]
    assert (
        doubts(LARK.model_copy(update={"continuous_torque": 0.4})) == ()
    )  # gears may ask for less
    assert "currents and heat are unknown" in doubts(from_urdf(3.0, 4.0))[0]


@given(
    speed=st.floats(0.0, 9.0),
    more=st.floats(0.0, 3.0),
    volts=st.floats(3.0, 8.4),
    warm=st.floats(0.0, 80.0),
)
def test_torque_falls_with_speed_and_warmth_and_rises_with_voltage(speed, more, volts, warm):
    """Monotone in each: what a faster, hotter or weaker-fed motor can give is never more."""
    one = drive_of(LARK)
    here = float(available_torque(one, speed, volts))
    assert float(available_torque(one, speed + more, volts)) <= here
    assert float(available_torque(one, speed, volts + more)) >= here
    assert float(available_torque(one, speed, volts, winding=293.15 + warm)) <= here
    assert float(available_torque(one, -speed, volts)) == here
    assert float(available_torque(one, speed, volts, driven=True)) >= here
