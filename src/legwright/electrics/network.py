"""The DC network: a battery's terminals, what conducts, and where the loads hang.

Radial: from the one source every node is reached in exactly one way. The return path is part
of each element's resistance. A regulator holds its output at a fixed voltage and draws
constant power from its input.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import isfinite, isnan

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.robot.tree import Floats, read_only

Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A battery or bench supply: an open-circuit voltage behind a resistance."""

    name: str
    node: str
    """Node at its terminals."""
    voltage: float
    """Without load [V]."""
    resistance: float = 0.0
    """Internal [Ω]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """Something that conducts between two nodes: wire there and back, contact, fuse, track."""

    name: str
    start: str
    end: str
    resistance: float
    """Of the whole loop, return path included [Ω]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Regulator:
    """A converter with a fixed output voltage."""

    name: str
    start: str
    """Node of its input."""
    end: str
    """Node of its output."""
    voltage: float
    """At its output [V]."""
    efficiency: float = 1.0
    """Output power over input power, above 0."""
    idle: float = 0.0
    """Power that it takes for itself [W]."""
    least: float = 0.0
    """Input voltage below which it no longer holds its output [V]."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Network:
    """A radial network, nodes in an order where each comes after the node that feeds it."""

    nodes: tuple[str, ...]
    """(N,): names; the first is the source's inside, behind its resistance."""
    elements: tuple[str, ...]
    """(N,): name of what feeds each node; the source's own name for its terminals."""
    parent: Indices
    """(N,): index of the feeding node; -1 for the first."""
    resistance: Floats
    """(N,): of what feeds each node [Ω]; 0 for the first and for regulators."""
    fixed: Floats
    """(N,): voltage that a regulator holds its output at [V]; nan at all other nodes."""
    efficiency: Floats
    """(N,): of the regulator; 1 at all other nodes."""
    idle: Floats
    """(N,): own power of the regulator [W]."""
    least: Floats
    """(N,): lowest input voltage of the regulator [V]; 0 at all other nodes."""
    voltage: float
    """Open-circuit voltage of the source [V]."""

    @cached_property
    def _places(self) -> dict[str, int]:
        return {name: at for at, name in enumerate(self.nodes)}

    def node(self, name: str) -> int:
        """Index of a node.

        Raises:
            RequestError: for a name that is not in the network.
        """
        if name not in self._places:
            raise RequestError("node", name, "one of " + ", ".join(self.nodes[1:]))
        return self._places[name]

    def path(self, name: str) -> tuple[str, ...]:
        """Names of the elements between the source and a node, source first."""
        at, names = self.node(name), []
        while at > 0:
            names.append(self.elements[at])
            at = int(self.parent[at])
        return tuple(reversed(names))


def network(
    sources: Sequence[Source],
    elements: Sequence[Element],
    regulators: Sequence[Regulator] = (),
) -> Network:
    """A radial network from its parts.

    Args:
        sources: One, or several of equal voltage in parallel at one node.
        elements: What conducts, in any order and direction.
        regulators: Converters; their input is `start`.

    Returns:
        Network.

    Raises:
        RequestError: for a loop, a part that no source feeds, sources in parallel with
            different voltages, a regulator fed from its output, or values that cannot be.
    """
    _check_values(sources, elements, regulators)
    source = _combined(sources)
    inside = f"{source.name} (inside)"
    edges: list[Element | Regulator] = [*elements, *regulators]
    first = Element(name=source.name, start=inside, end=source.node, resistance=source.resistance)
    order = _ordered(first, edges)
    _refuse_floating(order, edges)
    index = {inside: 0} | {node: at + 1 for at, (_, node, _) in enumerate(order)}
    parts = [edge for _, _, edge in order]
    return Network(
        nodes=tuple(index),
        elements=(inside, *(edge.name for edge in parts)),
        parent=np.array([-1, *(index[feeder] for feeder, _, _ in order)], dtype=np.int64),
        resistance=_column(parts, "resistance", 0.0),
        fixed=_column(parts, "voltage", np.nan),
        efficiency=_column(parts, "efficiency", 1.0),
        idle=_column(parts, "idle", 0.0),
        least=_column(parts, "least", 0.0),
        voltage=source.voltage,
    )


def _column(parts: list[Element | Regulator], field: str, otherwise: float) -> Floats:
    return read_only([otherwise, *(getattr(part, field, otherwise) for part in parts)])


def _ordered(
    first: Element, edges: list[Element | Regulator]
) -> list[tuple[str, str, Element | Regulator]]:
    """(feeder, fed, part) outward from the source, feeders first."""
    touching: dict[str, list[Element | Regulator]] = {}
    for edge in edges:
        touching.setdefault(edge.start, []).append(edge)
        touching.setdefault(edge.end, []).append(edge)
    order: list[tuple[str, str, Element | Regulator]] = [(first.start, first.end, first)]
    fed_by = {first.start: first.name, first.end: first.name}
    used = {id(first)}
    for _, here, _ in order:  # grows while it is walked
        for edge in touching.get(here, ()):
            if id(edge) in used:
                continue
            used.add(id(edge))
            there = edge.end if edge.start == here else edge.start
            if isinstance(edge, Regulator) and edge.start != here:
                raise RequestError("regulator", edge.name, f"fed at '{edge.start}', not output")
            if there in fed_by:
                raise RequestError(
                    "network",
                    f"{edge.start} - {edge.end}",
                    f"radial: '{edge.name}' closes a loop with '{fed_by[there]}'; take one out",
                )
            fed_by[there] = edge.name
            order.append((here, there, edge))
    return order


def _refuse_floating(
    order: list[tuple[str, str, Element | Regulator]], edges: list[Element | Regulator]
) -> None:
    reached = {id(edge) for _, _, edge in order}
    loose = [edge for edge in edges if id(edge) not in reached]
    if not loose:
        return
    names = ", ".join(f"'{edge.name}' ({edge.start} - {edge.end})" for edge in loose[:4])
    nodes = {node for edge in loose for node in (edge.start, edge.end)}
    shape = "a loop without a source" if len(loose) >= len(nodes) else "a floating branch"
    raise RequestError("network", f"{shape}: {names}", "fed by the source at every node")


def _combined(sources: Sequence[Source]) -> Source:
    """One source that stands for those in parallel."""
    if not sources:
        raise RequestError("sources", (), "at least one: the network has no source")
    lead = sources[0]
    for other in sources[1:]:
        if other.node != lead.node:
            raise RequestError(
                "sources", (lead.node, other.node), "at one node: two feed one network"
            )
        if abs(other.voltage - lead.voltage) > 1e-9 * abs(lead.voltage):
            raise RequestError(
                "voltages of sources in parallel",
                (lead.voltage, other.voltage),
                f"equal: between '{lead.name}' and '{other.name}' a current would flow unloaded",
            )
    if len(sources) == 1:
        return lead
    ohms = [source.resistance for source in sources]
    joined = 0.0 if min(ohms) == 0.0 else 1.0 / sum(1.0 / ohm for ohm in ohms)
    name = " + ".join(source.name for source in sources)
    return Source(name=name, node=lead.node, voltage=lead.voltage, resistance=joined)


def _check_values(
    sources: Sequence[Source], elements: Sequence[Element], regulators: Sequence[Regulator]
) -> None:
    everything: tuple[Source | Element | Regulator, ...] = (*sources, *elements, *regulators)
    names = [part.name for part in everything]
    for name in names:
        if names.count(name) > 1:
            raise RequestError("element name", name, "given once only")
    conducting: tuple[Source | Element, ...] = (*sources, *elements)
    for part in conducting:
        if not (isfinite(part.resistance) and part.resistance >= 0.0):
            raise RequestError(f"resistance of {part.name}", part.resistance, "finite and >= 0")
    supplies: tuple[Source | Regulator, ...] = (*sources, *regulators)
    for supply in supplies:
        if not (isfinite(supply.voltage) and supply.voltage > 0.0):
            raise RequestError(f"voltage of {supply.name}", supply.voltage, "finite and above 0")
    edges: tuple[Element | Regulator, ...] = (*elements, *regulators)
    for edge in edges:
        if edge.start == edge.end:
            raise RequestError(f"ends of {edge.name}", edge.start, "two different nodes")
    for regulator in regulators:
        if isnan(regulator.efficiency) or not 0.0 < regulator.efficiency <= 1.0:
            what = f"efficiency of {regulator.name}"
            raise RequestError(what, regulator.efficiency, "above 0 and at most 1")
        if not (isfinite(regulator.idle) and regulator.idle >= 0.0):
            raise RequestError(f"own power of {regulator.name}", regulator.idle, "finite and >= 0")
        if not (isfinite(regulator.least) and regulator.least >= 0.0):
            what = f"lowest input voltage of {regulator.name}"
            raise RequestError(what, regulator.least, "finite and >= 0")
