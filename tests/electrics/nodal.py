"""Independent referee: sparse nodal analysis of a circuit, straight from its items."""

from __future__ import annotations

import numpy as np
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Item, Kind


def node_voltages(
    circuit: Circuit,
    emf: float,
    inside: float,
    resistance: dict[str, float],
    *,
    current: dict[str, float],
    power: dict[str, float],
    conductance: dict[str, float] | None = None,
) -> dict[str, float]:
    """Voltage of every node, loads held as currents and renewed until nothing changes.

    Args:
        circuit: The circuit.
        emf: Of the battery [V].
        inside: Its resistance [Ω].
        resistance: Designation -> there and back [Ω].
        current: Node -> drawn [A].
        power: Node -> drawn [W].
        conductance: Node -> of resistive loads [S].
    """
    volts = {node: emf for node in circuit.nodes}
    rails = [item for item in circuit.items if item.kind is Kind.REGULATOR]
    for item in rails:
        for node in _behind(circuit, item):
            volts[node] = item.voltage or 0.0
    for _ in range(80):
        drawn = {
            node: current.get(node, 0.0)
            + power.get(node, 0.0) / volts[node]
            + (conductance or {}).get(node, 0.0) * volts[node]
            for node in volts
        }
        new = dict(volts)
        for rail in reversed(rails):  # the far ones first
            new.update(_island(circuit, resistance, drawn, rail))
            out = sum(drawn[node] for node in _behind(circuit, rail)) * (rail.voltage or 0.0)
            drawn[rail.start] += out / (rail.efficiency or 1.0) / volts[rail.start]
        new.update(_island(circuit, resistance, drawn, None, emf, inside))
        change = max(abs(new[node] - volts[node]) for node in volts)
        volts = new
        if change < 1e-13:
            break
    return volts


def _behind(circuit: Circuit, rail: Item) -> list[str]:
    """Nodes that a regulator holds or feeds."""
    found = [rail.end]
    for item in circuit.items:
        if item.start in found and item.kind is not Kind.REGULATOR:
            found.append(item.end)
    return found


def _island(
    circuit: Circuit,
    resistance: dict[str, float],
    drawn: dict[str, float],
    rail: Item | None,
    emf: float = 0.0,
    inside: float = 0.0,
) -> dict[str, float]:
    """One galvanic island: behind a regulator, or the battery's."""
    start = "battery" if rail is None else rail.end
    at, links, nodes = {start: 0}, [], [start]
    for item in circuit.items:
        if item.start in at and item.kind is not Kind.REGULATOR:
            bolted = resistance[item.designation] == 0.0  # one and the same node
            at[item.end] = at[item.start] if bolted else max(at.values()) + 1
            nodes.append(item.end)
            links += [] if bolted else [item]
    count = max(at.values()) + 1
    matrix, right = lil_matrix((count, count)), np.zeros(count)
    for item in links:
        ohms = resistance[item.designation]
        a, b = at[item.start], at[item.end]
        matrix[a, a] += 1.0 / ohms
        matrix[b, b] += 1.0 / ohms
        matrix[a, b] -= 1.0 / ohms
        matrix[b, a] -= 1.0 / ohms
    for node in nodes:
        right[at[node]] -= drawn[node]
    if rail is None:
        matrix[0, 0] += 1.0 / inside
        right[0] += emf / inside
    else:
        matrix[0, :] = 0.0
        matrix[0, 0] = 1.0
        right[0] = rail.voltage or 0.0
    answer = spsolve(matrix.tocsc(), right)
    return {node: float(answer[at[node]]) for node in nodes}
