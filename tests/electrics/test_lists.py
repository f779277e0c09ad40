"""The assembler's lists agree with the circuit they are made from."""

from __future__ import annotations

import csv
import re
from collections import Counter
from functools import cache
from io import StringIO
from pathlib import Path

import pytest

import legwright
from legwright.electrics.bill import bill_of
from legwright.electrics.bring_up import CAUTIONS, Stage, bring_up
from legwright.electrics.circuit import circuit_of
from legwright.electrics.csv_lists import csv_files, csv_text
from legwright.electrics.cut_list import cut_list, wire_totals
from legwright.electrics.parts import Kind
from legwright.electrics.pin_table import missing_pins, pin_table
from legwright.electrics.readings import idle_readings
from legwright.electrics.wire_list import Signal, signals, wire_list

ROBOTS = Path(__file__).parents[2] / "robots"
FAMILY = ("wren", "rook", "heron")


@cache
def walker(name):
    robot = legwright.load(ROBOTS / name)
    return robot, circuit_of(robot), robot.sheet.bus.kind


@pytest.mark.parametrize("name", FAMILY)
def test_each_wire_once_and_each_cable_has_supply_and_return(name):
    _, circuit, bus = walker(name)
    rows = wire_list(circuit, bus=bus)
    assert len({row.name for row in rows}) == len(rows)
    by_cable = Counter((row.cable, row.signal) for row in rows)
    assert set(by_cable.values()) == {1}
    for cable in circuit.of(Kind.CABLE):
        assert by_cable[cable.designation, Signal.SUPPLY] == 1
        assert by_cable[cable.designation, Signal.RETURN] == 1


def test_data_runs_to_servos_only():
    _, circuit, bus = walker("rook")
    data = {row.cable for row in wire_list(circuit, bus=bus) if row.signal is Signal.DATA}
    fed = {one.branch for one in circuit.servos.values()}
    assert data == {c.designation for c in circuit.of(Kind.CABLE) if c.branch in fed}


@pytest.mark.parametrize("name", FAMILY)
def test_every_pin_once_and_every_wire_on_two_pins(name):
    _, circuit, bus = walker(name)
    plugs = [row for row in pin_table(circuit, bus=bus) if row.connector.startswith("-X")]
    places = Counter((row.connector, row.pin) for row in plugs)
    assert set(places.values()) == {1}
    for plug in circuit.of(Kind.CONNECTOR):
        assert sum(row.connector == plug.designation for row in plugs) == plug.contacts
    wires = Counter(row.wire for row in plugs if row.wire)
    assert wires == {row.name: 2 for row in wire_list(circuit, bus=bus)}


def test_every_port_of_the_hub_is_in_the_pin_table():
    _, circuit, bus = walker("rook")
    ports = {r.connector for r in pin_table(circuit, bus=bus) if r.connector.startswith("-A1")}
    assert ports == {f"-A1 port {n}" for n in range(1, 9)}


def test_pins_that_carry_a_wire_are_of_its_net():
    _, circuit, bus = walker("heron")
    wires = {row.name: row for row in wire_list(circuit, bus=bus)}
    for row in pin_table(circuit, bus=bus):
        if row.wire:
            assert (row.net, row.colour) == (wires[row.wire].net, wires[row.wire].colour)


@pytest.mark.parametrize("name", FAMILY)
def test_cut_totals_add_up(name):
    _, circuit, bus = walker(name)
    rows = wire_list(circuit, bus=bus)
    totals = wire_totals(cut_list(rows))
    assert sum(total.count for total in totals) == len(rows)
    known = [row.length for row in rows if row.length is not None]
    assert sum(total.length for total in totals) == pytest.approx(sum(known), abs=5e-5 * len(known))
    assert sum(total.unknown for total in totals) == len(rows) - len(known)


def test_bill_counts_every_item_and_weighs_the_servos():
    robot, circuit, _ = walker("rook")
    bill = bill_of(circuit, robot)
    named = Counter(n for row in bill if row.unit == "pcs" for n in row.designations)
    for item in circuit.items:
        if item.kind not in {Kind.CABLE, Kind.CONNECTOR}:
            assert named[item.designation] == 1
    for one in circuit.consumers:
        assert named[one.designation] == 1
    servos = sum(row.mass for row in bill if row.part == "servo")
    assert servos == pytest.approx(18 * 0.072 + 2 * 0.022)  # robots/rook/robot.toml


@pytest.mark.parametrize("name", FAMILY)
def test_expected_readings_lie_between_their_bounds(name):
    robot, circuit, _ = walker(name)
    steps = bring_up(circuit, robot)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    order = list(Stage)
    assert [order.index(s.stage) for s in steps] == sorted(order.index(s.stage) for s in steps)
    for step in steps:
        if step.expected is not None:
            assert step.low <= step.expected <= step.high
    told = {step.caution for step in steps} | {step.what for step in steps}
    assert set(CAUTIONS) <= told


def test_cold_loops_are_the_circuits_own_sums():
    """Referee: the items on the way, added by hand."""
    robot, circuit, _ = walker("rook")
    wanted = sum(item.resistance for item in circuit.feeding("left_front_tibia"))
    step = next(s for s in bring_up(circuit, robot) if "joined at -M3 " in s.what)
    assert step.expected == pytest.approx(wanted, rel=1e-12)


def test_idle_voltages_obey_ohm():
    """Referee: Ohm's law along each item, and Kirchhoff's current law at the hub."""
    robot, circuit, _ = walker("rook")
    read = idle_readings(circuit, robot, supply=11.1)
    for item in circuit.items:
        if item.kind is not Kind.REGULATOR:
            drop = read.voltage[item.start] - read.voltage[item.end]
            assert drop == pytest.approx(item.resistance * read.current[item.designation])
    hub = circuit.of(Kind.HUB)[0]
    leaving = sum(read.current[item.designation] for item in circuit.items if item.start == "hub")
    assert read.current[hub.designation] == pytest.approx(leaving)
    assert read.voltage["battery"] == 11.1


@pytest.mark.parametrize("name", FAMILY)
def test_csv_reads_back(name):
    robot, circuit, bus = walker(name)
    files = csv_files(circuit, robot)
    assert set(files) == {"wires.csv", "cuts.csv", "pins.csv", "bom.csv", "tests.csv"}
    for text in files.values():
        assert text.endswith("\r\n") and not re.search(r"(?<!\r)\n", text)
        rows = list(csv.reader(StringIO(text)))
        assert len({len(row) for row in rows}) == 1
    wires = list(csv.DictReader(StringIO(files["wires.csv"])))
    assert [w["wire"] for w in wires] == [row.name for row in wire_list(circuit, bus=bus)]


def test_csv_quotes_what_needs_it():
    hostile = ["a,b", 'say "hi"', "two\nlines", "=1+1"]
    rows = list(csv.reader(StringIO(csv_text(["x"] * 4, [hostile]), newline="")))
    assert rows[1] == ["a,b", 'say "hi"', "two\nlines", "'=1+1"]


def test_signals_of_a_connector():
    assert signals("serial", 3, servos=True) == (Signal.SUPPLY, Signal.RETURN, Signal.DATA)
    assert signals("serial", 3, servos=False)[2] is Signal.SPARE
    assert signals("can", 4, servos=True)[2:] == (Signal.CAN_HIGH, Signal.CAN_LOW)
    assert signals("can", 2, servos=True) == (Signal.SUPPLY, Signal.RETURN)


def test_too_few_pins_for_the_bus_are_told():
    _, rook, _ = walker("rook")
    assert missing_pins(rook, bus="serial") == ()
    assert missing_pins(rook, bus="can") == ("leg",)
