"""A circuit as rows for a schematic: what lies ahead of the hub, then a row for each port."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Consumer, Item, Kind

LONGEST = 4
"""Consumers in one row; longer chains go on in the next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One consumer of a chain, and the items between it and the one before."""

    way: tuple[Item, ...]
    consumer: Consumer


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the schematic."""

    port: int | None
    """Of the hub; None for what hangs at the hub on no port, or for a row that goes on."""
    branch: str
    stops: tuple[Stop, ...]
    goes_on_from: str = ""
    """Designation of the last consumer of the row before; empty where the row starts."""
    tee: str = ""
    """Designation of the item in a row above, behind which this row branches off."""

    @property
    def spare(self) -> bool:
        """Whether nothing hangs on the port."""
        return not self.stops


def mains_of(circuit: Circuit) -> tuple[Item, ...]:
    """Items from the battery to the hub, the hub last; all ahead of ports without a hub."""
    hubs = circuit.of(Kind.HUB)
    return circuit.feeding(hubs[0].end) if hubs else ()


def side_lines(circuit: Circuit) -> tuple[Row, ...]:
    """Consumers that are fed neither through a port nor straight from the hub."""
    after = _hub_node(circuit)
    known = {name for port in circuit.ports for name in port.consumers}
    rows = []
    for one in circuit.consumers:
        way = circuit.feeding(one.node)
        behind = one.node == after or after in {item.start for item in way}
        if one.name not in known and not behind:
            rows.append(Row(port=None, branch="", stops=(Stop(way=way, consumer=one),)))
    return tuple(rows)


def rows_of(circuit: Circuit) -> tuple[Row, ...]:
    """A row for each port, long chains in several, then what hangs at the hub itself."""
    by_name = {one.name: one for one in circuit.consumers}
    rows: list[Row] = []
    for port in circuit.ports:
        chain = [by_name[name] for name in port.consumers if name in by_name]
        rows += _chain(circuit, port.number, port.branch, chain)
    known = {name for port in circuit.ports for name in port.consumers}
    hub = _hub_node(circuit)
    for one in circuit.consumers:
        way = None if one.name in known else _after(circuit, one.node, hub)
        if way is not None:
            rows = _joined(rows, one, way)
    return tuple(rows)


def _joined(rows: list[Row], one: Consumer, way: tuple[Item, ...]) -> list[Row]:
    """Rows with one more consumer, right under the row that it branches off from."""
    drawn = {item.designation: k for k, row in enumerate(rows) for s in row.stops for item in s.way}
    shared = [item for item in way if item.designation in drawn]
    rest = tuple(item for item in way if item.designation not in drawn)
    tee = shared[-1].designation if shared else ""
    row = Row(port=None, branch="", stops=(Stop(way=rest, consumer=one),), tee=tee)
    if not tee:
        return [*rows, row]
    at = drawn[tee] + 1
    while at < len(rows) and rows[at].tee == tee:
        at += 1
    return [*rows[:at], row, *rows[at:]]


def _chain(circuit: Circuit, port: int, branch: str, chain: Sequence[Consumer]) -> list[Row]:
    stops, at = [], _hub_node(circuit)
    for one in chain:
        way = _after(circuit, one.node, at)
        stops.append(Stop(way=way or (), consumer=one))
        at = one.node
    if not stops:
        return [Row(port=port, branch=branch, stops=())]
    rows = []
    for first in range(0, len(stops), LONGEST):
        rows.append(
            Row(
                port=None if first else port,
                branch=branch,
                stops=tuple(stops[first : first + LONGEST]),
                goes_on_from=stops[first - 1].consumer.designation if first else "",
            )
        )
    return rows


def _hub_node(circuit: Circuit) -> str:
    hubs = circuit.of(Kind.HUB)
    return hubs[0].end if hubs else "battery"


def _after(circuit: Circuit, node: str, start: str) -> tuple[Item, ...] | None:
    """Items from a node outward to another; None where the way does not lead past it."""
    if node == start:
        return ()
    way = circuit.feeding(node)
    for index, item in enumerate(way):
        if item.start == start:
            return way[index:]
    return None


def dealt(rows: Sequence[Row], most: int) -> tuple[tuple[Row, ...], ...]:
    """Rows dealt onto sheets as evenly as they go; one empty sheet for none."""
    if not rows:
        return ((),)
    sheets = -(-len(rows) // most)
    each = -(-len(rows) // sheets)
    return tuple(tuple(rows[k : k + each]) for k in range(0, len(rows), each))
