"""The circuit of a robot: what the sheet states, and what it must not state."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from demo_circuits import DEMOS, demo, variant

import legwright as lw
from legwright.electrics.circuit import circuit_of
from legwright.electrics.parts import Kind, Origin


@pytest.mark.parametrize("name", DEMOS)
def test_every_node_is_fed_before_it_feeds(name: str) -> None:
    circuit = circuit_of(demo(name))
    seen = {"battery"}
    for item in circuit.items:
        assert item.start in seen
        assert item.end not in seen
        seen.add(item.end)
    assert {one.node for one in circuit.consumers} <= seen


@pytest.mark.parametrize("name", DEMOS)
def test_the_demo_robots_are_complete(name: str) -> None:
    circuit = circuit_of(demo(name))
    assert circuit.notes == ()
    assert all(item.length and item.wire for item in circuit.of(Kind.CABLE))
    assert set(circuit.servos) == set(demo(name).servos)
    assert len(circuit.ports) == 8  # six legs, mast, computer: common practice
    assert all(port.first for port in circuit.ports)


def test_designations_are_unique_and_bear_their_letters() -> None:
    """Referee: the letter codes of IEC 81346-2 as the module states them."""
    circuit = circuit_of(demo("rook"))
    everything = [*circuit.items, *circuit.consumers]
    names = [one.designation for one in everything]
    assert len(set(names)) == len(names)
    assert all(one.designation[:2] == f"-{one.kind.value}" for one in everything)
    assert all(one.designation[2:].isdigit() for one in everything)


def test_order_from_battery_to_hub() -> None:
    """A fuse that no run names sits at the battery, ahead of the first wire."""
    path = [item.kind for item in circuit_of(demo("rook")).feeding("hub")]
    wired = [Kind.CONNECTOR, Kind.CABLE, Kind.CONNECTOR]
    assert path == [Kind.FUSE, *wired, Kind.SWITCH, *wired, Kind.HUB]


def test_daisy_chain_in_order() -> None:
    circuit = circuit_of(demo("rook"))
    cables = [item.name for item in circuit.feeding("left_front_tibia") if item.wire]
    assert cables == [
        "run battery",
        "run hub",
        "left-front lead",
        "left-front link 1",
        "left-front link 2",
    ]


def test_loop_resistance_by_hand() -> None:
    """Referee: sums by hand; 14 AWG 8.286 Ω/km and 20 AWG 33.31 Ω/km of the usual tables."""
    circuit = circuit_of(demo("rook"))
    lead = next(item for item in circuit.items if item.name == "left-front lead")
    assert lead.length is not None
    mains = 3e-3 + 2e-3 + 4 * 2 * 0.6e-3 + 2 * 0.200 * 8.286e-3
    hub = 2 * 0.01724e-6 * 0.090 / (12e-3 * 70e-6 * 2)
    leg = 2 * 2 * 8e-3 + 2 * lead.length * 33.31e-3
    assert circuit.loop_resistance("left_front_coxa") == pytest.approx(mains + hub + leg, rel=3e-3)


def test_resistance_rises_with_copper_only() -> None:
    """Referee: IEC 60028, 0.393 % per kelvin at 20 °C."""
    circuit = circuit_of(demo("rook"))
    wire, plug = circuit.of(Kind.CABLE)[0], circuit.of(Kind.CONNECTOR)[0]
    assert wire.resistance_at(303.15) / wire.resistance == pytest.approx(1.0393, abs=1e-4)
    assert plug.resistance_at(303.15) == plug.resistance


def test_loads_on_one_rail_share_a_regulator() -> None:
    circuit = circuit_of(demo("rook"))
    assert [item.name for item in circuit.of(Kind.REGULATOR)] == ["computer regulator"]
    camera = next(one for one in circuit.consumers if one.name == "camera")
    assert any(item.kind is Kind.REGULATOR for item in circuit.feeding(camera.node))


def test_a_load_on_no_port_hangs_at_the_hub_and_is_told(tmp_path: Path) -> None:
    robot = variant(tmp_path, '[load.radio]\npower = "2 W"\nsupply = "5 V"\n')
    circuit = circuit_of(robot)
    assert [note for note in circuit.notes if "radio" in note]
    radio = next(item for item in circuit.items if item.name == "radio regulator")
    assert radio.start == "hub"


def test_lengths_from_sheet_route_and_straight_line(tmp_path: Path) -> None:
    robot = variant(tmp_path, '[hub.branch.left-front]\nlead = "300 mm"\n')
    given = circuit_of(robot, lengths={"left_front_femur": 0.111})
    cables = {item.name: item for item in given.of(Kind.CABLE)}
    assert (cables["left-front lead"].length, cables["left-front lead"].origin) == (
        0.3,
        Origin.SHEET,
    )
    assert cables["left-front link 1"].length == 0.111
    assert cables["left-front link 1"].origin is Origin.ROUTE
    straight = cables["left-front link 2"]
    assert straight.origin is Origin.STRAIGHT
    assert straight.length == pytest.approx(1.1 * 0.085)  # femur of 85 mm, slack 0.1


FAULTS = {
    "loop": (
        '[harness.run.extra]\nstart = "battery"\nend = "hub"\nconductor = "main"\n',
        "closes a loop",
    ),
    "floating": (
        '[harness.run.extra]\nstart = "here"\nend = "there"\nconductor = "main"\n',
        "floats",
    ),
    "cross-section": (
        '[harness.conductor.odd]\ncross_section = "0.6 mm^2"\n'
        '[hub.branch.mast]\nconductor = "odd"\n',
        "cross-section",
    ),
    "insulation": (
        '[harness.conductor.leg]\ninsulation = "paper"\n',
        "insulation",
    ),
    "servo on no port": (
        '[hub.branch.mast]\nchain = ["mast_pan"]\n',
        "mast_tilt is on no port",
    ),
    "no such joint": (
        '[hub.branch.mast]\nchain = ["mast_pan", "mast_tlit"]\n',
        "mast_tlit",
    ),
    "load twice": (
        '[hub.branch.mast]\nload = "computer"\n',
        "fed already",
    ),
    "thin insulation": (
        '[harness.conductor.leg]\noutside = "0.5 mm"\n',
        "outside diameter",
    ),
}


@pytest.mark.parametrize("case", FAULTS)
def test_faults_of_the_circuit_name_the_place(case: str, tmp_path: Path) -> None:
    text, words = FAULTS[case]
    robot = variant(tmp_path, text)
    with pytest.raises(lw.RobotError, match=words) as caught:
        circuit_of(robot)
    assert caught.value.place
    assert caught.value.cure


SHEET_FAULTS = {
    "unknown gauge": ('[harness.conductor.leg]\ngauge = "99 AWG"\n', "gauge"),
    "servo on two ports": ('[hub.branch.mast]\nchain = ["left_front_coxa"]\n', "left_front_coxa"),
    "more branches than ports": ("[hub]\nports = 7\n", "7 ports"),
}


@pytest.mark.parametrize("case", SHEET_FAULTS)
def test_faults_that_the_sheet_refuses(case: str, tmp_path: Path) -> None:
    text, words = SHEET_FAULTS[case]
    with pytest.raises(lw.RobotError, match=words):
        variant(tmp_path, text)


def test_no_battery_no_circuit() -> None:
    robot = demo("rook")
    bare = replace(robot, sheet=robot.sheet.model_copy(update={"battery": None}))
    with pytest.raises(lw.RobotError, match="battery"):
        circuit_of(bare)
