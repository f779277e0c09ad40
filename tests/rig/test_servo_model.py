"""Servos as the world runs them, against the analytic line, heat and friction."""

from __future__ import annotations

import numpy as np
import pytest

import legwright as lw
from legwright.mechanics.drive import drives_of
from legwright.mechanics.heat import temperature_after
from legwright.mechanics.servo_current import supply_current, winding_current
from legwright.mechanics.servo_line import available_torque
from legwright.rig import _servo_kernel as k
from legwright.rig.servo_model import Loop, servos_of
from legwright.rig.supply import Stiff
from legwright.robot.robot import Robot

DT = 0.001
AMBIENT = 293.15
J = 18


class Bench:
    """Servos whose links are moved by hand, at a set supply voltage."""

    def __init__(self, robot: Robot, volts: float = 11.1, loop: Loop | None = None) -> None:
        servos = servos_of(robot, np.full(J, 1e-3), timestep=DT, ambient=AMBIENT, loop=loop)
        self.c, self.s = servos.constants.copy(), servos.states(np.zeros(J), AMBIENT)
        self.q, self.w, self.force = np.zeros(J), np.zeros(J), np.zeros(J)
        self.at, self.volts = np.array([np.arange(J)] * 2), np.full(J, volts)
        self.wanted = np.zeros((2, J))
        self.supply = Stiff(volts, J)
        self.goal, self.goal_speed = self.wanted

    def step(self, count: int = 1) -> None:
        for _ in range(count):
            self.q += self.w * DT
            k.step_servos(
                self.c, self.s, self.q, self.w, self.at, self.wanted,
                self.supply.resistance, self.supply.line, self.volts, DT, self.force,
            )  # fmt: skip


@pytest.mark.parametrize("volts", [11.1, 9.0])
def test_torque_follows_the_line_at_the_voltage_of_the_moment(rook: Robot, volts: float) -> None:
    """Referee: `mechanics.servo_line.available_torque`, full bridge, no extra rest friction."""
    bench = Bench(rook, volts, Loop(stribeck=0.0))
    drive = drives_of(rook)
    bench.c[k.HOTTEST] = 1e9
    speeds = np.linspace(0.02, 0.98, J) * drive.no_load_speed * volts / 11.1 * 0.95
    bench.w[:] = speeds
    bench.goal[:] = 1e3
    bench.step(600)
    bench.s[k.WINDING] = AMBIENT
    bench.step(5)
    line = available_torque(drive, speeds, volts)
    assert np.allclose(bench.s[k.TORQUE], line, atol=0.01)
    current = winding_current(drive, bench.s[k.TORQUE], speeds)
    assert np.allclose(bench.s[k.CURRENT], current, atol=0.01)
    drawn = supply_current(drive, bench.s[k.CURRENT], speeds, volts, winding=bench.s[k.WINDING])
    assert np.allclose(bench.s[k.SUPPLY], drawn, atol=0.01)


def test_a_load_drives_the_motor_with_the_back_driving_efficiency(rook: Robot) -> None:
    """Referee: `mechanics.servo_current.winding_current` for torque against the motion."""
    bench = Bench(rook, loop=Loop(stribeck=0.0, feed=1.0))
    drive = drives_of(rook)
    bench.c[k.GAIN] = 4.0
    bench.w[:] = -1.0
    for _ in range(3000):
        bench.goal[:] = bench.q + 1.2
        bench.goal_speed[:] = bench.w
        bench.step()
    torque = bench.s[k.TORQUE]
    assert (torque > 0.3).all()
    assert np.allclose(bench.s[k.CURRENT], winding_current(drive, torque, bench.w), atol=0.02)


def test_winding_warms_as_the_first_order_model_with_coppers_rise(rook: Robot) -> None:
    """Referee: `mechanics.heat.temperature_after`, closed form."""
    bench = Bench(rook)
    drive = drives_of(rook)
    bench.c[k.CURRENT_LIMIT] = 0.9
    bench.c[k.THERMAL_TIME] = 4.2  # a hundred times quicker, same law
    bench.goal[:] = 1e3
    bench.step(3000)
    expected = temperature_after(
        0.81, drive.resistance, drive.thermal_resistance, 4.2, time=3.0, ambient=AMBIENT
    )
    assert np.allclose(bench.s[k.CURRENT], 0.9)
    assert np.allclose(bench.s[k.WINDING], expected, atol=0.1)


def test_cut_back_keeps_every_winding_below_its_highest_temperature(rook: Robot) -> None:
    bench = Bench(rook)
    bench.c[k.THERMAL_TIME] = 1.0
    bench.goal[:] = 1e3
    bench.step(20000)
    hottest = drives_of(rook).highest_winding
    assert (bench.s[k.WINDING] < hottest).all()
    assert (bench.s[k.WINDING] > hottest - 10.0).all()
    assert (np.abs(bench.s[k.CURRENT]) < 1.6).all()


def test_the_link_is_free_inside_the_backlash_only(rook: Robot) -> None:
    bench = Bench(rook)
    half = 0.5 * np.radians(0.4)
    bench.s[k.DEAD] = 1.0
    bench.q[:] = np.linspace(-1.5, 1.5, J) * half
    bench.step()
    free = np.abs(bench.q) < half
    assert (bench.s[k.TORQUE][free] == 0.0).all()
    assert (bench.s[k.TORQUE][~free] * bench.q[~free] < 0.0).all()


def test_friction_holds_below_its_limit_and_lets_go_above(rook: Robot) -> None:
    """Formula: the rotor rests while |torque on the gear| <= Coulomb friction at rest + loss."""
    bench = Bench(rook)
    bench.s[k.DEAD] = 1.0
    bench.c[k.PLAY] = 0.0
    rest = bench.c[k.COULOMB] * 1.5 / (1.0 - bench.c[k.BACKDRIVE_LOSS])
    share = np.where(np.arange(J) % 2 == 0, 0.95, 1.05)
    for _ in range(200):  # keep the spring wound to a set torque
        bench.q[:] = bench.s[k.ANGLE] - share * rest / bench.c[k.GEAR]
        bench.w[:] = bench.s[k.SPEED]
        bench.step()
        bench.q[:] = bench.s[k.ANGLE]
    still = bench.s[k.SPEED] == 0.0
    assert still[::2].all() and not still[1::2].any()


def test_rotor_and_link_keep_their_energy_without_losses(rook: Robot) -> None:
    """Law: kinetic energy of both masses and the spring's is constant without friction."""
    bench = Bench(rook)
    for row in (k.COULOMB, k.DRIVING_LOSS, k.BACKDRIVE_LOSS, k.GEAR_DAMPING, k.PLAY):
        bench.c[row] = 0.0
    bench.s[k.DEAD] = 1.0
    inertia = 1e-3
    bench.w[:] = 2.0
    energies = []
    for _ in range(2000):
        k.step_servos(
            bench.c, bench.s, bench.q, bench.w, bench.at, bench.wanted,
            bench.supply.resistance, bench.supply.line, bench.volts, DT, bench.force,
        )  # fmt: skip
        bench.w += DT * bench.force / inertia
        bench.q += DT * bench.w
        spring = bench.c[k.GEAR] * (bench.s[k.ANGLE] - bench.q) ** 2
        energy = bench.c[k.ROTOR] * bench.s[k.SPEED] ** 2 + inertia * bench.w**2 + spring
        energies.append(0.5 * energy[0])
    half = np.array(energies).reshape(4, 500).mean(axis=1)
    assert np.allclose(half, half[0], rtol=0.02)


def test_sensors_have_their_steps_noise_and_filter(rook: Robot) -> None:
    from legwright.rig.grounds import flat
    from legwright.rig.world import World

    world = World(rook, flat(), seed=2)
    readings = np.array([world.sense().current for _ in range(4000)])
    assert np.allclose(readings / 0.003, np.round(readings / 0.003), atol=1e-6)
    spread = readings.std(axis=0)
    # Variance of noise plus that of rounding, step²/12.
    assert np.allclose(spread, np.hypot(0.012, 0.003 / np.sqrt(12.0)), rtol=0.06)
    steps = world.sense().q / rook.servos["left_front_coxa"].encoder_step
    assert np.allclose(steps, np.round(steps), atol=1e-6)
    louder = World(rook, flat(), seed=2, current_noise=0.03)
    assert np.std([louder.sense().current for _ in range(500)]) == pytest.approx(0.03, rel=0.1)


def test_a_brown_out_resets_the_servo_for_a_while(rook: Robot) -> None:
    bench = Bench(rook, volts=8.0)  # the sheet says 8.4 V
    bench.goal[:] = 1.0
    bench.step()
    assert (bench.s[k.CURRENT] == 0.0).all() and (bench.s[k.RESETS] == 1.0).all()
    bench.supply = Stiff(11.1, J)
    bench.step(400)
    assert (bench.s[k.CURRENT] == 0.0).all()
    bench.step(200)
    assert (bench.s[k.CURRENT] > 0.5).all()


def test_bad_loops_are_refused() -> None:
    for wrong in ({"full_at": 0.0}, {"feed": -1.0}, {"filter": np.nan}, {"fade": np.inf}):
        with pytest.raises(lw.RequestError, match="loop"):
            Loop(**wrong)
