"""What reaches each servo: against nodal analysis, hand, and conservation."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from demo_circuits import DEMOS, demo, variant, walked
from nodal import node_voltages

from legwright.electrics.ampacity import grouping_factor, steady_temperature
from legwright.electrics.battery import internal_resistance, open_voltage
from legwright.electrics.circuit import circuit_of
from legwright.electrics.copper import gauge_wire
from legwright.electrics.flow import flow
from legwright.electrics.mishaps import mishaps
from legwright.electrics.parts import Kind
from legwright.electrics.supply import Doing, Supply, iterated_demand, supplies, supply
from legwright.electrics.warmth import surroundings, wire_temperature
from legwright.mechanics.drive import drive_of
from legwright.mechanics.heat import copper_factor
from legwright.mechanics.servo_current import winding_current
from legwright.robot.robot import Robot

WINDING = 330.0
"""Any winding temperature [K]."""


@cache
def settled(name: str) -> Supply:
    robot = demo(name)
    return supply(robot, circuit_of(robot), *walked(name), winding=WINDING)


def given(robot: Robot, base: str = "rook", **options: float) -> Supply:
    return supply(robot, circuit_of(robot), *walked(base), winding=WINDING, **options)


def ohms_of(one: Supply) -> dict[str, float]:
    """There and back at the temperatures that were found."""
    pairs = zip(one.circuit.items, one.temperature, strict=True)
    return {
        item.designation: item.resistance_at(float(warm)) if item.copper else item.resistance
        for item, warm in pairs
    }


@pytest.mark.parametrize("name", DEMOS)
def test_against_nodal_analysis(name: str) -> None:
    """Referee: SciPy sparse nodal analysis from the items alone.

    The last warming step changes copper by less than 1 K; both are solved at the very same
    resistances, those of the network.
    """
    one = settled(name)
    net, wants = one.flow.network, one.demand
    resistance = {
        element: float(ohm) for element, ohm in zip(net.elements, net.resistance, strict=True)
    }
    nodes = [one.circuit.servos[joint].node for joint in wants.joints]
    extra = {c.name: c.node for c in one.circuit.consumers if c.kind is not Kind.SERVO}
    for sample in (0, 9):
        power = dict(zip(nodes, wants.servo_power()[sample], strict=True))
        for load, watts in zip(wants.loads, wants.power, strict=True):
            power[extra[load]] = power.get(extra[load], 0.0) + float(watts)
        expected = node_voltages(
            one.circuit,
            net.voltage,
            float(net.resistance[1]),
            resistance,
            current=dict(zip(nodes, wants.idle, strict=True)),
            power=power,
        )
        for node, volts in expected.items():
            assert one.flow.voltage[sample, net.node(node)] == pytest.approx(volts, rel=1e-9)


@pytest.mark.parametrize("name", DEMOS)
def test_power_balance(name: str) -> None:
    """Referee: conservation; losses summed here item by item."""
    one = settled(name)
    net, current, volts = one.flow.network, one.flow.current, one.flow.voltage
    lost = np.zeros(current.shape[0])
    for item in one.circuit.items:
        a, b = volts[:, net.node(item.start)], volts[:, net.node(item.end)]
        through = current[:, net.node(item.end)]
        if item.kind is Kind.REGULATOR:
            lost += through * b * (1.0 / (item.efficiency or 1.0) - 1.0)
        else:
            lost += (a - b) * through
    cells = (net.voltage - one.terminal) * current[:, 0]
    taken = (one.flow.drawn * volts).sum(axis=1)
    np.testing.assert_allclose(net.voltage * current[:, 0], taken + lost + cells, rtol=1e-9)
    assert one.imbalance < 1e-9


@pytest.mark.parametrize("name", DEMOS)
def test_fixed_point_is_the_direct_solution(name: str) -> None:
    """Referee: iteration between voltages and currents, against one solution of the powers."""
    one = settled(name)
    assert one.short == ()
    assert one.settled.iterations == 1
    again = iterated_demand(one.circuit, one.flow.network, one.demand, one.floor)
    assert again.iterations > 1
    assert again.converged.all()
    np.testing.assert_allclose(one.flow.voltage, again.flow.voltage, rtol=1e-8)


def test_voltage_drop_of_one_servo_by_hand() -> None:
    """Referee: Ohm by hand; 2 A through 0.5 m of 20 AWG (33.31 Ω/km), there and back."""
    robot = demo("rook")
    circuit = circuit_of(robot, lengths={"left_front_coxa": 0.5})
    net = circuit.network(temperature=293.15)
    answer = flow(net, current={"left_front_coxa": 2.0})
    lead = next(item for item in circuit.items if item.name == "left-front lead")
    ends = [float(answer.voltage[0, net.node(node)]) for node in (lead.start, lead.end)]
    assert ends[0] - ends[1] == pytest.approx(2.0 * 2 * 0.5 * 33.31e-3, rel=2e-3)


def test_the_heaviest_sample_stands_at_cut_off() -> None:
    one = settled("rook")
    assert float(one.terminal.min()) == pytest.approx(one.circuit.pack.cutoff, abs=2e-3)
    # a tripod's half cycles are alike: two samples are the heaviest but for rounding
    assert one.terminal[one.worst[0]] == pytest.approx(float(one.terminal.min()), rel=1e-14)
    assert 0.0 < one.charge < 0.2


def test_the_voltage_falls_outward() -> None:
    one = settled("rook")
    names = list(demo("rook").joint_names)
    chain = [names.index(f"left_front_{part}") for part in ("coxa", "femur", "tibia")]
    volts = one.voltage[:, chain]
    assert (np.diff(volts, axis=1) <= 1e-12).all()
    assert (volts[:, 0] < one.terminal).all()


def test_conductors_settle_where_the_heat_balance_says() -> None:
    """Referee: `ampacity.steady_temperature`, by bisection instead of a curve."""
    robot, one = demo("rook"), settled("rook")
    grouping = grouping_factor(robot.sheet.harness.bundle)
    ambient = robot.sheet.requirements.ambient
    for at, item in enumerate(one.circuit.items):
        if item.wire is None:
            continue
        expected = steady_temperature(
            item.wire, one.rms[at], surroundings(item, ambient), grouping=grouping
        )
        assert one.temperature[at] == pytest.approx(float(expected), abs=0.01)


def test_the_curve_of_a_wire_up_to_melting() -> None:
    wire, around = gauge_wire(24), surroundings(settled("rook").circuit.items[2], 308.15)
    amps = np.array([0.0, 0.3, 2.0, 7.0, 15.0, 22.0, 400.0])
    expected = steady_temperature(wire, amps, around)
    np.testing.assert_allclose(wire_temperature(wire, around, amps), expected, rtol=1e-4)


def test_tally_by_plain_sums() -> None:
    one = settled("wren")
    at = [item.name for item in one.circuit.items].index("left-front lead")
    through = one.flow.current[:, one.flow.network.node(one.circuit.items[at].end)]
    assert one.rms[at] == pytest.approx(np.sqrt(np.mean(through**2)))
    assert one.peak[at] == np.abs(through).max() == abs(through[one.worst[at]])
    assert one.mean[at] == pytest.approx(through.mean())


def test_a_weak_battery_browns_out(tmp_path: Path) -> None:
    one = given(variant(tmp_path, '[battery]\ncell_resistance = "400 mohm"\n'))
    assert one.brown_out
    assert one.settled.why


def test_a_servo_below_its_lowest_voltage_is_named(tmp_path: Path) -> None:
    one = given(variant(tmp_path, '[servo.dunnock]\nlowest_voltage = "9.89 V"\n'))
    assert one.brown_out
    assert one.place in demo("rook").joint_names
    assert one.spare[one.place] < 0.0 < settled("rook").spare[one.place]


def test_a_starved_regulator_is_a_brown_out(tmp_path: Path) -> None:
    one = given(variant(tmp_path, '[load.computer]\nsupply = "9.5 V"\n'))
    assert one.brown_out
    assert one.place == "computer"


def test_a_servo_cannot_take_more_than_its_line_gives() -> None:
    """Referee: (V - k_e ω)/R of the motor; asked for more, it takes V times that."""
    robot = demo("rook")
    motion, loads = walked("rook")
    heavy = replace(loads, torque=loads.torque * 8.0)
    one = supply(robot, circuit_of(robot), motion, heavy, winding=WINDING, charge=0.6)
    assert one.short
    wants = one.demand
    column = robot.joint_names.index(one.short[0])
    volts = one.voltage[:, column]
    most = (volts - wants.back_voltage[:, column]) / wants.resistance[column]
    sample = int(np.argmax(wants.current[:, column] - most))
    assert wants.current[sample, column] > most[sample] > 0.0
    node = one.flow.network.node(one.circuit.servos[one.short[0]].node)
    expected = most[sample] + wants.idle[column]
    assert one.flow.drawn[sample, node] == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("name", DEMOS)
def test_servos_ask_for_what_the_formulas_of_the_motor_give(name: str) -> None:
    """Referee: `servo_current.winding_current` for each joint alone; held joints stand still."""
    robot, wants = demo(name), settled(name).demand
    motion, loads = walked(name)
    held = dict(zip(robot.held, loads.held_torque, strict=True))
    for column, joint in enumerate(wants.joints):
        legs = column < len(robot.joint_names)
        torque = loads.torque[:, column] if legs else held[joint]
        speed = motion.qd[:, column] if legs else 0.0
        drive = drive_of(robot.servos[joint])
        current = winding_current(drive, torque, speed)
        back = drive.emf_constant * speed * np.sign(current)
        np.testing.assert_allclose(wants.current[:, column], np.abs(current), rtol=1e-12)
        np.testing.assert_allclose(wants.back_voltage[:, column], back, rtol=1e-12)
        ohms = drive.resistance * (copper_factor(WINDING) if legs else 1.0)
        assert wants.resistance[column] == pytest.approx(float(ohms), rel=1e-12)


def test_cases_together_are_each_as_alone() -> None:
    """One that is light, one that asks too much of a servo, one that nothing can feed."""
    robot = demo("rook")
    circuit = circuit_of(robot)
    motion, loads = walked("rook")
    doings = [
        Doing(motion=motion, loads=replace(loads, torque=loads.torque * by), winding=winding)
        for by, winding in ((1.0, WINDING), (8.0, WINDING), (0.01, 300.0), (40.0, 360.0))
    ]
    for charge in (None, 0.6):
        found = supplies(robot, circuit, doings, charge=charge)
        for one, doing in zip(found, doings, strict=True):
            alone = supply(
                robot, circuit, doing.motion, doing.loads, winding=doing.winding, charge=charge
            )
            for field in ("voltage", "current", "drawn"):
                np.testing.assert_array_equal(getattr(one.flow, field), getattr(alone.flow, field))
            for field in ("peak", "rms", "mean", "worst", "drop", "temperature", "terminal"):
                np.testing.assert_array_equal(getattr(one, field), getattr(alone, field))
            assert (one.charge, one.short, one.brown_out) == (
                alone.charge, alone.short, alone.brown_out,
            )  # fmt: skip
            assert one.at_input == pytest.approx(alone.at_input, nan_ok=True, abs=0.0)
        assert [bool(one.short) for one in found[:3]] == [False, True, False]


@pytest.mark.parametrize("name", DEMOS)
def test_stalls_against_nodal_analysis(name: str) -> None:
    """Referee: nodal analysis with cold windings as resistors, battery full, copper at 20 °C."""
    robot, one = demo(name), settled(name)
    circuit, wants = one.circuit, one.demand
    found = {each.name: each for each in mishaps(robot, circuit, one)}
    resistance = {item.designation: item.resistance for item in circuit.items}
    nodes = {joint: circuit.servos[joint].node for joint in wants.joints}
    mean = wants.servo_power().mean(axis=0)
    for title in ("left_front_tibia", "left-front", "all servos"):
        stalled = found[title].stalled
        power = {
            nodes[joint]: 0.0 if joint in stalled else float(watts)
            for joint, watts in zip(wants.joints, mean, strict=True)
        }
        rest = [c for c in circuit.consumers if c.kind is not Kind.SERVO]
        power |= {c.node: c.peak_power for c in rest}
        volts = node_voltages(
            circuit,
            float(open_voltage(circuit.pack, 1.0)),
            float(internal_resistance(circuit.pack, 1.0)),
            resistance,
            current=dict(zip(nodes.values(), wants.idle, strict=True)),
            power=power,
            conductance={
                nodes[joint]: 1.0 / float(drive_of(robot.servos[joint]).resistance)
                for joint in stalled
            },
        )
        item = next(each for each in circuit.items if each.name == "left-front lead")
        expected = (volts[item.start] - volts[item.end]) / item.resistance
        current = found[title].current[circuit.items.index(item)]
        assert current == pytest.approx(expected, rel=1e-6)


def test_a_larger_fuse_no_longer_opens(tmp_path: Path) -> None:
    """A fuse of 40 A ahead of thin wire: the stalled leg is not cut off in time."""
    thin = '[harness.conductor.leg]\ngauge = "26 AWG"\noutside = "1.3 mm"\n'
    weak = '[servo.dunnock]\nstall_current = "9 A"\nwinding_resistance = "1.24 ohm"\n'
    fused = '[hub.branch.left-front]\nfuse = "{} A"\n'
    verdicts = {}
    for rating in ("5", "40"):
        robot = variant(tmp_path, thin + weak + fused.format(rating))
        one = given(robot)
        leg = next(each for each in mishaps(robot, one.circuit, one) if each.name == "left-front")
        verdicts[rating] = leg
    assert verdicts["5"].ok
    assert verdicts["5"].opens
    assert not verdicts["40"].ok
    assert verdicts["40"].hottest
