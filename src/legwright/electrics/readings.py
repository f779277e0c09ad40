"""Readings: voltages and currents of a circuit at one moment, for lists and drawings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from legwright.electrics.circuit import Circuit, least_input
from legwright.electrics.flow import flow
from legwright.electrics.parts import Item, Kind
from legwright.electrics.supply import Supply
from legwright.errors import RequestError
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What a meter would show."""

    moment: str
    """``idle, battery full``, ``tripod forward, worst instant``"""
    open_voltage: float
    """Of the battery or bench supply [V]."""
    voltage: Mapping[str, float]
    """Node -> supply against return [V]."""
    current: Mapping[str, float]
    """Designation of an item, or of the battery -> current; of a regulator, at its input [A]."""
    lowest: Mapping[str, float] = field(default_factory=dict)
    """Consumer -> lowest voltage at it, ahead of its regulator, over all moments known [V]."""
    peak: Mapping[str, float] = field(default_factory=dict)
    """Designation -> highest current at any moment [A]; empty where only one is known."""
    drop: Mapping[str, float] = field(default_factory=dict)
    """Designation -> largest voltage lost in it at any moment [V]."""
    least: Mapping[str, float] = field(default_factory=dict)
    """Consumer -> lowest voltage that it works at, ahead of its regulator [V]."""
    place: str = ""
    """The consumer with the least voltage to spare."""


def idle_readings(
    circuit: Circuit, robot: Robot, *, supply: float | None = None, charge: float = 1.0
) -> Readings:
    """The circuit with every servo idle and every load at its average power.

    Args:
        circuit: The circuit.
        robot: Whose servos state their idle currents; 0 where they do not.
        supply: Voltage of a stiff bench supply in the battery's place [V]; the battery when
            None.
        charge: State of charge of the battery.

    Returns:
        Readings.

    Raises:
        RequestError: where the circuit cannot carry even that.
    """
    net = circuit.network(charge=charge)
    if supply is not None:
        stiff = net.resistance.copy()
        stiff[1] = 0.0
        net = replace(net, voltage=supply, resistance=stiff)
    amps: dict[str, float] = {}
    watts: dict[str, float] = {}
    for one in circuit.consumers:
        servo = robot.servos.get(one.name)
        if one.name in circuit.servos:
            idle = (servo.idle_current if servo else None) or 0.0
            amps[one.node] = amps.get(one.node, 0.0) + idle
        else:
            watts[one.node] = watts.get(one.node, 0.0) + one.power
    found = flow(net, current=amps, power=watts)
    if not bool(np.all(found.solved)):
        raise RequestError("idle loads", sum(watts.values()), "less power than the wiring carries")
    row = dict(zip(net.nodes, found.voltage[0].tolist(), strict=True))
    into = dict(zip(net.nodes, found.current[0].tolist(), strict=True))
    current = {item.designation: _taken(item, row, into) for item in circuit.items}
    current[circuit.battery] = into["battery"]
    volts = net.voltage if supply is None else supply
    source = "battery" if supply is None else "bench supply"
    return Readings(
        moment=f"idle on the {source}",
        open_voltage=float(volts),
        voltage=row,
        current=current,
        lowest={one.name: row[_input_node(circuit, one.name)] for one in circuit.consumers},
        least=least_voltages(robot) | _least_inputs(circuit),
    )


def worst_readings(supplies: Mapping[str, Supply]) -> Readings | None:
    """The worst moment of all cases, and the extremes of each part over all of them.

    Args:
        supplies: Case name -> its supply.

    Returns:
        Readings at the sample in which some consumer has the least voltage to spare; None
        where no case settled.
    """
    good = {name: one for name, one in supplies.items() if one.settled.converged.any()}
    if not good:
        return None
    name = min(good, key=lambda key: good[key].spare[good[key].place])
    worst = good[name]
    circuit, place = worst.circuit, worst.place
    node = _input_node(circuit, place)
    nodes = worst.flow.network.nodes
    settled = np.where(worst.settled.converged, worst.flow.voltage[:, nodes.index(node)], np.inf)
    at = int(np.argmin(settled))
    row = dict(zip(nodes, worst.flow.voltage[at].tolist(), strict=True))
    into = dict(zip(nodes, worst.flow.current[at].tolist(), strict=True))
    current = {item.designation: _taken(item, row, into) for item in circuit.items}
    parts = [item.designation for item in circuit.items]
    return Readings(
        moment=f"{name}, worst instant",
        open_voltage=float(worst.flow.network.voltage),
        voltage=row,
        current=current | {circuit.battery: into["battery"]},
        lowest={key: min(one.at_input[key] for one in good.values()) for key in worst.at_input},
        peak=_largest(parts, [one.peak for one in good.values()]),
        drop=_largest(parts, [one.drop for one in good.values()]),
        least=dict(worst.floor),
        place=place,
    )


def _largest(parts: Sequence[str], values: Sequence[Floats]) -> dict[str, float]:
    return dict(zip(parts, np.max(np.array(values), axis=0).tolist(), strict=True))


def _input_node(circuit: Circuit, name: str) -> str:
    node = next(one.node for one in circuit.consumers if one.name == name)
    for item in circuit.feeding(node):
        if item.kind is Kind.REGULATOR:
            return item.start
    return node


def _taken(item: Item, volts: Mapping[str, float], into: Mapping[str, float]) -> float:
    if item.kind is not Kind.REGULATOR:
        return into[item.end]
    power = into[item.end] * volts[item.end] / (item.efficiency or 1.0)
    return power / volts[item.start] if volts[item.start] > 0.0 else 0.0


def _least_inputs(circuit: Circuit) -> dict[str, float]:
    """Consumer behind a regulator -> the least input of that regulator [V]."""
    return {
        one.name: least_input(item)
        for one in circuit.consumers
        for item in circuit.feeding(one.node)
        if item.kind is Kind.REGULATOR
    }


def least_voltages(robot: Robot) -> dict[str, float]:
    """Joint -> lowest voltage that its servo works at [V]; left out where not stated."""
    return {
        joint: servo.lowest_voltage
        for joint, servo in robot.servos.items()
        if servo is not None and servo.lowest_voltage is not None
    }
