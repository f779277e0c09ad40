"""Readings: voltages and currents of a circuit at one moment, for lists and drawings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from legwright.electrics.circuit import Circuit
from legwright.electrics.flow import flow
from legwright.electrics.parts import Item, Kind
from legwright.errors import RequestError
from legwright.robot.robot import Robot


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
    """Consumer -> lowest voltage at any moment [V]; empty where only this one is known."""
    peak: Mapping[str, float] = field(default_factory=dict)
    """Designation -> highest current at any moment [A]."""
    least: Mapping[str, float] = field(default_factory=dict)
    """Consumer -> lowest voltage that it works at [V]."""


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
        stiff[0] = 0.0
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
        least=least_voltages(robot),
    )


def _taken(item: Item, volts: Mapping[str, float], into: Mapping[str, float]) -> float:
    if item.kind is not Kind.REGULATOR:
        return into[item.end]
    power = into[item.end] * volts[item.end] / (item.efficiency or 1.0)
    return power / volts[item.start] if volts[item.start] > 0.0 else 0.0


def least_voltages(robot: Robot) -> dict[str, float]:
    """Joint -> lowest voltage that its servo works at [V]; left out where not stated."""
    return {
        joint: servo.lowest_voltage
        for joint, servo in robot.servos.items()
        if servo is not None and servo.lowest_voltage is not None
    }
