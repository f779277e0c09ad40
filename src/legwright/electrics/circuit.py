"""The circuit of a robot: from its battery to its last servo, as the sheet states it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from legwright.electrics.battery import Pack, internal_resistance, open_voltage
from legwright.electrics.copper import resistance_ratio
from legwright.electrics.network import Element, Network, Regulator, Source, network
from legwright.electrics.parts import Consumer, Item, Kind, Origin, Port
from legwright.electrics.slack import cuts_of
from legwright.electrics.wiring_up import wire_up
from legwright.errors import RequestError
from legwright.robot.robot import Robot
from legwright.robot.sheet_faults import lacks
from legwright.robot.tree import Floats, read_only

ROOM = 293.15
"""Temperature at which resistances are stated [K]."""
CELLS = 298.15
"""Temperature of the battery's cells unless told otherwise [K]."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Circuit:
    """Battery, items that conduct, consumers; radial, outward from the battery.

    The return path is part of every item: a cable has two conductors, a connector two mated
    contacts, the hub two tracks.
    """

    name: str
    pack: Pack
    battery: str
    """Designation, ``-G1``."""
    items: tuple[Item, ...]
    """Each after the one that feeds it."""
    consumers: tuple[Consumer, ...]
    ports: tuple[Port, ...]
    """All ports of the hub by number, spare ones too."""
    notes: tuple[str, ...] = ()
    """What was assumed, one sentence each."""

    @cached_property
    def bare(self) -> Circuit:
        """The same without its parts, where another has them all."""
        return replace(self, items=(), consumers=(), ports=(), notes=())

    @cached_property
    def by_designation(self) -> Mapping[str, Item]:
        """``-W3`` -> item."""
        return {item.designation: item for item in self.items}

    @cached_property
    def servos(self) -> Mapping[str, Consumer]:
        """Joint name -> its servo."""
        return {one.name: one for one in self.consumers if one.kind is Kind.SERVO}

    @cached_property
    def nodes(self) -> tuple[str, ...]:
        """The battery's terminals, then the far node of each item in turn."""
        return ("battery", *(item.end for item in self.items))

    @cached_property
    def _into(self) -> Mapping[str, Item]:
        """Node -> the item that feeds it."""
        return {item.end: item for item in self.items}

    @cached_property
    def cold(self) -> Network:
        """The circuit with a full battery and its copper at 20 °C."""
        elements = [
            Element(
                name=item.designation, start=item.start, end=item.end, resistance=item.resistance
            )
            for item in self.items
            if item.kind is not Kind.REGULATOR
        ]
        regulators = [_converter(item) for item in self.of(Kind.REGULATOR)]
        return network([self._source(1.0, CELLS)], elements, regulators)

    @cached_property
    def columns(self) -> NDArray[np.int64]:
        """Place of each item on the node axis of the circuit's networks, (E,)."""
        index = {name: at for at, name in enumerate(self.cold.nodes)}
        return np.array([index[item.end] for item in self.items], dtype=np.int64)

    @cached_property
    def copper(self) -> NDArray[np.bool_]:
        """Items whose resistance rises as copper's does, (E,)."""
        return np.array([item.copper for item in self.items], dtype=np.bool_)

    @cached_property
    def regulators(self) -> Mapping[str, Item | None]:
        """Consumer -> the regulator that feeds it: the last on the way; None where none does."""
        found: dict[str, Item | None] = {}
        for one in self.consumers:
            ahead = [item for item in self.feeding(one.node) if item.kind is Kind.REGULATOR]
            found[one.name] = ahead[-1] if ahead else None
        return found

    @cached_property
    def inputs(self) -> Mapping[str, str]:
        """Consumer -> its node, or that ahead of the first regulator on the way to it."""
        nodes = {}
        for one in self.consumers:
            nodes[one.name] = one.node
            for item in self.feeding(one.node):
                if item.kind is Kind.REGULATOR:
                    nodes[one.name] = item.start
                    break
        return nodes

    @cached_property
    def _places(self) -> Mapping[str, int]:
        """Consumer -> its place on the node axis of the circuit's own networks."""
        return {one.name: self.cold.node(one.node) for one in self.consumers}

    def places(self, network: Network) -> Mapping[str, int]:
        """Consumer -> its node in a network with the circuit's nodes."""
        if network.nodes is self.cold.nodes:
            return self._places
        return {one.name: network.node(one.node) for one in self.consumers}

    def _source(self, charge: float, cells: float) -> Source:
        return Source(
            name=self.battery,
            node="battery",
            voltage=float(open_voltage(self.pack, charge)),
            resistance=float(internal_resistance(self.pack, charge, cells)),
        )

    def of(self, *kinds: Kind) -> tuple[Item, ...]:
        """Items of some kinds."""
        return tuple(item for item in self.items if item.kind in kinds)

    def feeding(self, node: str) -> tuple[Item, ...]:
        """Items between the battery and a node, battery first.

        Raises:
            RequestError: for a node that is not there.
        """
        if node not in self.nodes:
            raise RequestError("node", node, "one of " + ", ".join(self.nodes))
        path: list[Item] = []
        while node != "battery":
            path.append(self._into[node])
            node = path[-1].start
        return tuple(reversed(path))

    def loop_resistance(self, node: str) -> float:
        """From the battery's terminals to a node and back, at 20 °C [Ω]."""
        return sum(item.resistance for item in self.feeding(node))

    def network(
        self,
        *,
        charge: float = 1.0,
        temperature: Mapping[str, float] | Floats | float = ROOM,
        cells: float = CELLS,
    ) -> Network:
        """The circuit as a network to be solved.

        Args:
            charge: State of charge of the battery, 0 to 1.
            temperature: Of the copper: of all, of each item, (E,), or designation ->
                temperature [K]; `ROOM` for items that are not named.
            cells: Temperature of the battery's cells [K].

        Returns:
            Network; its elements bear the designations, its nodes the circuit's names.
        """
        if isinstance(temperature, Mapping):
            named = [temperature.get(item.designation, ROOM) for item in self.items]
            temperature = np.array(named, dtype=np.float64)
        ratio = np.where(self.copper, resistance_ratio(temperature), 1.0)
        source, cold = self._source(charge, cells), self.cold
        resistance = cold.resistance.copy()
        resistance[self.columns] *= ratio
        resistance[cold.node(source.node)] = source.resistance
        return replace(cold, resistance=read_only(resistance), voltage=source.voltage)


def circuit_of(robot: Robot, *, lengths: Mapping[str, float] | None = None) -> Circuit:
    """The circuit that a robot's sheet states.

    Args:
        robot: With battery, hub, and harness in its sheet.
        lengths: Joint or load that a cable leads to -> its length, one way [m], for cables
            whose length the sheet leaves open; those of the routes when None. Where there is
            none, the straight line between the cable's ends with the sheet's slack.

    Returns:
        Circuit.

    Raises:
        RobotError: where the sheet states no battery or hub, or states a circuit that cannot
            be: loops, parts that nothing feeds, a servo on no port, unknown wire.
    """
    sheet = robot.sheet
    if sheet.battery is None:
        raise lacks(robot.source, "battery", "is missing", "Describe the [battery].")
    if sheet.hub is None:
        raise lacks(robot.source, "hub", "is missing", "Describe the [hub] and its branches.")
    cells = sheet.battery
    assembly = wire_up(robot, routed_lengths(robot) if lengths is None else lengths)
    pack = Pack(
        chemistry=cells.chemistry,
        series=cells.series,
        parallel=cells.parallel,
        capacity=cells.capacity,
        cell_resistance=cells.cell_resistance,
        cell_cutoff=cells.cell_cutoff,
    )
    return Circuit(
        name=robot.name,
        pack=pack,
        battery="-G1",
        items=tuple(assembly.items),
        consumers=tuple(assembly.consumers),
        ports=tuple(assembly.ports),
        notes=tuple(assembly.notes),
    )


def routed_lengths(robot: Robot) -> dict[str, float]:
    """Joint or load -> length to cut the cable that leads to it, by its route [m]."""
    return {cut.name: cut.length for _, cut in cuts_of(robot) if cut.length is not None}


def least_input(item: Item) -> float:
    """Input voltage below which a step-down converter no longer holds its output [V].

    A tenth above the output; common practice, no published source.
    """
    return 1.1 * float(item.voltage or np.nan)


def _converter(item: Item) -> Regulator:
    return Regulator(
        name=item.designation,
        start=item.start,
        end=item.end,
        voltage=float(item.voltage or np.nan),
        efficiency=item.efficiency or 1.0,
        least=least_input(item),
    )


__all__ = [
    "Circuit",
    "Consumer",
    "Item",
    "Kind",
    "Origin",
    "Port",
    "circuit_of",
    "least_input",
    "routed_lengths",
]
