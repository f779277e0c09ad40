"""The circuit of the shown walk as a block: current, drop and temperature of every wire."""

from __future__ import annotations

from collections.abc import Collection
from math import isfinite

import numpy as np

from legwright.electrics.parts import Item
from legwright.electrics.supply import Supply
from legwright.robot.tree import Floats
from legwright.views.desk.blocks import CircuitBlock, Consumer, Wire, packed
from legwright.views.desk.cycle import Who
from legwright.views.desk.shown import Shown


def circuit_block(
    shown: Shown, *, rev: int, who: Who, case: str, keys: Collection[str]
) -> bytes | None:
    """The circuit over one cycle as one binary frame.

    Args:
        shown: The walk.
        rev: Revision of the robot.
        who: The edited robot or what lies under it.
        case: Name of the case; empty for a walk of the user's own.
        keys: Keys of the sheet that can be edited.

    Returns:
        The frame; see `CircuitBlock` for its arrays. None where circuit or currents are not
        known.
    """
    given = shown.supply
    if given is None:
        return None
    circuit, net = given.circuit, given.flow.network
    at = [net.node(item.end) for item in circuit.items]
    current = given.flow.current[:, at]
    header = CircuitBlock(
        rev=rev,
        who=who,
        case=case,
        wires=tuple(
            _wire(item, index, shown, given, keys) for index, item in enumerate(circuit.items)
        ),
        consumers=tuple(
            Consumer(
                part=one.designation,
                name=one.name,
                kind=one.kind.name.lower(),
                lowest=_known(given.at_input.get(one.name)),
                least=given.floor.get(one.name) or None,
            )
            for one in circuit.consumers
        ),
        battery=circuit.battery,
        charge=given.charge,
        power=_known(given.power),
        brown_out=given.brown_out,
    )
    arrays: dict[str, Floats] = {
        "current": current,
        "drop": np.abs(current) * net.resistance[at],
        "voltage": given.flow.voltage[:, [net.node(one.node) for one in circuit.consumers]],
        "terminal": given.terminal,
        "battery": given.flow.current[:, 0],
    }
    return packed(header, arrays)


def _wire(item: Item, index: int, shown: Shown, given: Supply, keys: Collection[str]) -> Wire:
    key = f"harness.conductor.{item.conductor}.gauge"
    return Wire(
        part=item.designation,
        kind=item.kind.name.lower(),
        name=item.name,
        size=item.wire.name if item.wire else "",
        conductor=item.conductor,
        key=key if key in keys else "",
        branch=item.branch,
        length=item.length,
        rating=item.rating,
        highest=_highest(item, shown),
        temperature=_known(float(given.temperature[index])),
        rms=_known(float(given.rms[index])),
        peak=_known(float(given.peak[index])),
        lost=_known(float(given.drop[index])),
    )


def _highest(item: Item, shown: Shown) -> float | None:
    """Highest temperature of a wire [K]: stated, or that of its insulation."""
    harness = shown.robot.sheet.harness
    kind = harness.conductor.get(item.conductor) if harness else None
    if kind is not None and kind.highest_temperature is not None:
        return kind.highest_temperature
    return item.cover.continuous if item.cover else None


def _known(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)
