"""Search: combinations of wires and a hub width, lightest first, and the drop of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from heapq import heappop, heappush

import numpy as np

from legwright.electrics.bounds import Kindred
from legwright.electrics.circuit import Circuit
from legwright.electrics.copper import DENSITY, Wire
from legwright.electrics.cut_list import mass_per_metre
from legwright.electrics.flow import Flow, flow
from legwright.electrics.network import Network
from legwright.electrics.parts import Item, Kind
from legwright.electrics.supply import Supply
from legwright.robot.tree import Floats, read_only

_DIRECTIONS = 400
"""Mixes of resistances for which the worst sample is remembered."""
ROUNDING = 1e-9
"""What a bound yields to the rounding of what it bounds."""


class Search:
    """All combinations of wires and a hub width, each solved as a network when asked.

    A pick is one index for each conductor's wires, then one for the hub's width.
    """

    def __init__(
        self,
        circuit: Circuit,
        supplies: Sequence[Supply],
        kinds: Sequence[Kindred],
        widths: Floats,
    ) -> None:
        self.circuit, self.kinds, self.widths = circuit, tuple(kinds), widths
        self.masses = [
            [wire_mass(kind.cables, wire) for wire in kind.wires] for kind in self.kinds
        ] + [[hub_mass(circuit, float(width)) for width in widths]]
        self.hub = circuit.of(Kind.HUB)[0]
        self.base = circuit.network(temperature=warmest(circuit, supplies))
        self._place = {item.designation: item for item in circuit.items}
        self._loads(supplies)
        thickest = tuple(len(column) - 1 for column in self.masses)
        self._rows = self._worst_rows(thickest)

    def _loads(self, supplies: Sequence[Supply]) -> None:
        """All cases' loads, stacked."""
        nodes = len(self.base.nodes)
        power, idle = [], []
        for given in supplies:
            wants = given.demand
            servo, others = wants.placed(self.circuit, self.base)
            watts = np.zeros((wants.current.shape[0], nodes))
            watts[:, servo] = wants.servo_power()
            for column, load in zip(others, wants.power, strict=True):
                watts[:, column] += load
            amps = np.zeros_like(watts)
            amps[:, servo] = wants.idle
            power.append(watts)
            idle.append(amps)
        self._power, self._idle = np.vstack(power), np.vstack(idle)
        servos = [self.base.node(one.node) for one in self.circuit.servos.values()]
        self._servos = np.array(servos, dtype=np.int64)

    def network(self, pick: Sequence[int]) -> Network:
        """The circuit with picked parts behind stiff battery terminals."""
        ohms = self.base.resistance.copy()
        ohms[1] = 0.0
        scales = np.append(self._scales(pick), 1.0)
        for at, name in enumerate(self.base.elements):
            if name in self._place:
                ohms[at] *= scales[self._group(self._place[name])]
        return replace(self.base, resistance=ohms)

    def drop(self, pick: Sequence[int]) -> float:
        """Largest share of the terminals' voltage lost on the way to a servo; inf: none arrives.

        The battery stands at its cut-off voltage in every sample.
        """
        answer = self._flow(pick)
        if not answer.solved.all():
            return np.inf
        return float(1.0 - answer.voltage[:, self._servos].min() / self.circuit.pack.cutoff)

    def least_drop(self, pick: Sequence[int]) -> float:
        """A drop that the true one surely reaches: with the currents of the thickest parts."""
        lost = self._rows @ np.append(self._scales(pick), 1.0)
        return float(lost.max() / self.circuit.pack.cutoff) * (1.0 - ROUNDING)

    def _flow(self, pick: Sequence[int]) -> Flow:
        cutoff = self.circuit.pack.cutoff
        return flow(self.network(pick), power=self._power, current=self._idle, supply=cutoff)

    def _worst_rows(self, thickest: Sequence[int]) -> Floats:
        """Voltage lost by group of parts, at the stated resistances, where it is worst.

        Rows (sample and servo) by groups: each conductor, the hub, the rest. Loads take
        constant power, so that their currents are least, everywhere at once, with the
        thickest parts.
        """
        light = self._flow(thickest)
        groups = len(self.masses) + 1
        lost = np.zeros((*light.current.shape, groups))
        for at in range(1, len(self.base.nodes)):
            lost[:, at] = lost[:, self.base.parent[at]]
            item = self._place.get(self.base.elements[at])
            if item is not None and np.isnan(self.base.fixed[at]):
                volts = self.base.resistance[at] * light.current[:, at]
                lost[:, at, self._group(item)] += volts
        rows = lost[:, self._servos].reshape(-1, groups)
        mixes = np.random.default_rng(1).exponential(size=(groups, _DIRECTIONS))
        mixes[:, :groups] = np.eye(groups) + 1e-3
        return read_only(rows[np.unique(np.argmax(rows @ mixes, axis=0))])

    def _group(self, item: Item) -> int:
        if item is self.hub and item.track is not None:
            return len(self.kinds)
        if item.wire is not None:
            for at, kind in enumerate(self.kinds):
                if item.conductor == kind.conductor:
                    return at
        return len(self.masses)

    def _scales(self, pick: Sequence[int]) -> Floats:
        """Resistance of the picked parts over that of the stated ones, group by group."""
        scales = []
        for kind, index in zip(self.kinds, pick, strict=False):
            stated = kind.cables[0].wire
            scales.append(kind.wires[index].per_metre / stated.per_metre if stated else 1.0)
        width = self.hub.track.width if self.hub.track else 1.0
        return np.array([*scales, width / float(self.widths[pick[-1]])])

    def by_mass(self) -> Iterator[tuple[int, ...]]:
        """Every pick, lightest first."""
        start = tuple(0 for _ in self.masses)
        heap, seen = [(self.mass(start), start)], {start}
        while heap:
            _, pick = heappop(heap)
            yield pick
            for at, column in enumerate(self.masses):
                if pick[at] + 1 < len(column):
                    heavier = (*pick[:at], pick[at] + 1, *pick[at + 1 :])
                    if heavier not in seen:
                        seen.add(heavier)
                        heappush(heap, (self.mass(heavier), heavier))

    def mass(self, pick: Sequence[int]) -> float:
        """Of wires and hub copper [kg]."""
        return sum(column[at] for column, at in zip(self.masses, pick, strict=True))


def wire_mass(cables: Sequence[Item], wire: Wire) -> float:
    """Of cables in a wire, supply and return [kg]."""
    return 2.0 * mass_per_metre(wire) * sum(item.length or 0.0 for item in cables)


def hub_mass(circuit: Circuit, width: float) -> float:
    """Of the hub's main track, supply and return [kg]."""
    hub = circuit.of(Kind.HUB)[0]
    if hub.track is None:
        return 0.0
    section = width * hub.track.thickness * hub.track.layers
    return 2.0 * DENSITY * section * (hub.track_length or 0.0)


def warmest(circuit: Circuit, supplies: Sequence[Supply]) -> dict[str, float]:
    """Designation -> highest copper temperature over the cases [K]."""
    warm = np.fmax.reduce([given.temperature for given in supplies])
    return {
        item.designation: float(kelvin)
        for item, kelvin in zip(circuit.items, warm, strict=True)
        if np.isfinite(kelvin)
    }
