"""Choose for me: against brute force over every combination."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from demo_circuits import demo, variant, walked

from legwright.electrics.ampacity import grouping_factor, steady_temperature
from legwright.electrics.bounds import Kindred, fusings, kindreds
from legwright.electrics.choose import Choice, applied, choose
from legwright.electrics.choose_search import Search
from legwright.electrics.circuit import circuit_of, routed_lengths
from legwright.electrics.flow import flow
from legwright.electrics.parts import Kind
from legwright.electrics.supply import Supply, supply
from legwright.electrics.warmth import surroundings
from legwright.errors import RequestError
from legwright.robot.robot import Robot

WINDING = 330.0


def walking(robot: Robot) -> Supply:
    return supply(robot, circuit_of(robot), *walked("rook"), winding=WINDING)


def asking(robot: Robot, drop: float) -> Robot:
    wants = robot.sheet.requirements.model_copy(update={"voltage_drop": drop})
    return replace(robot, sheet=robot.sheet.model_copy(update={"requirements": wants}))


@cache
def chosen(drop: float) -> tuple[Robot, Choice]:
    robot = asking(demo("rook"), drop)
    return robot, choose(robot, circuit_of(robot), [walking(robot)])


def small_search(robot: Robot) -> Search:
    """At most four wires for each conductor, and five widths."""
    one = walking(robot)
    fuses = fusings(robot, one.circuit, [one])
    kinds = [
        Kindred(
            conductor=kind.conductor,
            cables=kind.cables,
            wires=kind.wires[:4],
            refused=kind.refused,
        )
        for kind in kindreds(robot, one.circuit, [one], fuses)
    ]
    return Search(one.circuit, [one], kinds, np.array([1e-3, 2e-3, 4e-3, 8e-3, 16e-3]))


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.95])
def test_the_lightest_of_all_combinations(share: float) -> None:
    """Referee: brute force; the allowed drop is set so that it parts the combinations."""
    search = small_search(demo("rook"))
    every = list(product(*(range(len(column)) for column in search.masses)))
    drops = {pick: search.drop(pick) for pick in every}
    limit = sorted(drops.values())[int(share * len(every))]
    brute = min(search.mass(pick) for pick in every if drops[pick] <= limit)
    found = next(
        pick
        for pick in search.by_mass()
        if search.least_drop(pick) <= limit and search.drop(pick) <= limit
    )
    assert search.mass(found) == pytest.approx(brute, rel=1e-12)


def test_combinations_come_lightest_first_and_all() -> None:
    search = small_search(demo("rook"))
    every = list(search.by_mass())
    masses = [search.mass(pick) for pick in every]
    assert masses == sorted(masses)
    assert len(set(every)) == len(every) == np.prod([len(column) for column in search.masses])


def test_the_quick_bound_never_exceeds_the_drop() -> None:
    search = small_search(demo("rook"))
    for pick in list(search.by_mass())[::17]:
        bound, drop = search.least_drop(pick), search.drop(pick)
        assert bound <= drop * (1.0 + 1e-12)
        assert bound == pytest.approx(drop, rel=0.05)


def test_the_drop_is_that_of_the_applied_robot() -> None:
    """Referee: the sheet rewritten, its circuit built anew, terminals held at cut-off."""
    robot, choice = chosen(0.02)
    other = applied(robot, choice)
    one = walking(robot)
    circuit = circuit_of(other, lengths=routed_lengths(robot))  # thinner wire bends tighter
    net = circuit.network(
        temperature={
            item.designation: float(warm)
            for item, warm in zip(one.circuit.items, one.temperature, strict=True)
            if np.isfinite(warm)
        }
    )
    bare = net.resistance.copy()
    bare[1] = 0.0
    servo, others = one.demand.placed(circuit, net)
    power, idle = np.zeros((24, len(net.nodes))), np.zeros((24, len(net.nodes)))
    power[:, servo], idle[:, servo] = one.demand.servo_power(), one.demand.idle
    for column, watts in zip(others, one.demand.power, strict=True):
        power[:, column] += watts
    volts = flow(
        replace(net, resistance=bare), power=power, current=idle, supply=circuit.pack.cutoff
    ).voltage[:, servo]
    assert 1.0 - volts.min() / circuit.pack.cutoff == pytest.approx(choice.drop, rel=1e-9)
    assert choice.drop <= 0.02


def test_a_tighter_drop_costs_copper_and_says_so() -> None:
    _, loose = chosen(0.05)
    _, tight = chosen(0.016)
    assert tight.mass > loose.mass
    assert any(row.driver == "voltage drop" for row in tight.chosen)
    assert not any(row.driver == "voltage drop" for row in loose.chosen)


def test_every_chosen_wire_stays_within_its_rise() -> None:
    """Referee: heat balance of each wire in the chosen robot's own supply."""
    robot, choice = chosen(0.05)
    other = applied(robot, choice)
    one = supply(other, circuit_of(other), *walked("rook"), winding=WINDING)
    wants = robot.sheet.requirements
    grouping = grouping_factor(robot.sheet.harness.bundle)
    for item, rms in zip(one.circuit.items, one.rms, strict=True):
        if item.wire is not None:
            warm = steady_temperature(
                item.wire, rms, surroundings(item, wants.ambient), grouping=grouping
            )
            assert float(warm) - wants.ambient <= wants.wire_rise * 1.05
    assert all(item.kind is not Kind.FUSE or item.rating for item in one.circuit.items)


def test_terminals_bound_the_choice(tmp_path: Path) -> None:
    """A connector that takes 0.5 mm² and more leaves 20 AWG as the thinnest."""
    robot = variant(tmp_path, '[harness.connector.leg]\nsmallest_wire = "0.5 mm^2"\n')
    choice = choose(robot, circuit_of(robot), [walking(robot)])
    assert choice.wires["leg"].name == "20 AWG"
    row = next(row for row in choice.chosen if row.place.endswith("conductor.leg"))
    assert "connector 'leg'" in row.driver


def test_what_cannot_be_met_is_refused() -> None:
    robot = asking(demo("rook"), 0.001)
    with pytest.raises(RequestError, match="voltage_drop"):
        choose(robot, circuit_of(robot), [walking(robot)])


def test_a_cable_without_length_is_refused(tmp_path: Path) -> None:
    text = '[harness.run.beacon]\nstart = "hub"\nend = "beacon"\nconductor = "light"\n'
    robot = variant(tmp_path, text)
    with pytest.raises(RequestError, match="beacon"):
        choose(robot, circuit_of(robot), [walking(robot)])
