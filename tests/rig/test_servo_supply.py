"""Supplies: one contract for all, and Ohm's law."""

from __future__ import annotations

import numpy as np
import pytest

import legwright as lw
from legwright.electrics.circuit import circuit_of
from legwright.electrics.flow import flow
from legwright.rig import _supply_kernel as k
from legwright.rig.supply import Sagging, Stiff, Supply, other_power, supply_of
from legwright.rig.wired_supply import Wired
from legwright.robot.robot import Robot

KINDS = ("stiff", "sagging", "wired")


def _made(kind: str, robot: Robot) -> Supply:
    if kind == "stiff":
        return Stiff(12.0, 18)
    return Sagging(robot) if kind == "sagging" else Wired(robot)


@pytest.mark.parametrize("kind", KINDS)
def test_every_supply_keeps_the_contract(rook: Robot, kind: str) -> None:
    supply = _made(kind, rook)
    idle = supply.voltages(np.zeros(18), 0.001).copy()
    loaded = supply.voltages(np.full(18, 1.0), 0.001).copy()
    assert idle.shape == (18,) and (idle > 9.0).all() and supply.about
    assert (loaded <= idle + 1e-12).all() and supply.total >= 18.0
    assert (loaded <= supply.terminal + 1e-12).all()


def test_a_battery_sags_by_its_resistance_and_loses_charge(rook: Robot) -> None:
    """Formula: U = U0 - R I; charge falls by I t / C."""
    supply = Sagging(rook)
    start = supply.terminal
    supply.voltages(np.full(18, 2.0), 0.0)
    assert start - supply.terminal == pytest.approx(supply.line[k.INNER] * supply.total, rel=1e-9)
    for _ in range(1000):
        supply.voltages(np.full(18, 1.0), 0.1)
    gone = (18.0 + other_power(rook) / 12.0) * 100.0 / rook.sheet.battery.capacity
    assert 1.0 - supply.charge == pytest.approx(gone, rel=0.01)


def test_the_harness_gives_each_servo_what_the_network_gives_it(rook: Robot) -> None:
    """Referee: `electrics.flow` on the same circuit with the same currents."""
    supply = Wired(rook)
    currents = np.random.default_rng(4).uniform(0.0, 1.5, 18)
    supply.line[k.OTHER] = 0.0
    volts = supply.voltages(currents, 0.0)
    circuit = circuit_of(rook)
    network = circuit.network()
    nodes = [circuit.servos[name].node for name in rook.joint_names]
    given = dict(zip(nodes, currents, strict=True))
    assert len(given) == 18
    solved = flow(network, current=given)
    # The converters of the other loads take a little for themselves.
    expected = [float(solved.voltage[0, network.node(node)]) for node in nodes]
    assert np.allclose(volts, expected, atol=0.002)


def test_the_best_supply_that_the_sheet_allows_is_chosen(rook: Robot) -> None:
    assert isinstance(supply_of(rook), Wired)
    for wrong in (0.0, 1.5, np.nan):
        with pytest.raises(lw.RequestError, match="charge"):
            Wired(rook, charge=wrong)
    with pytest.raises(lw.RequestError, match="voltage"):
        Stiff(-1.0, 18)
