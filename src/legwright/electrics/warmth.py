"""How warm the items of a circuit settle under their RMS currents."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.electrics.ampacity import Surroundings, conduction_drop, heat_loss
from legwright.electrics.board import Board, Track, track_rise
from legwright.electrics.contacts import Contact, temperature_rise
from legwright.electrics.copper import MELTING, Wire, resistance_ratio
from legwright.electrics.parts import Item
from legwright.robot.tree import Floats

_POINTS = 4000
"""Of a curve; read off within 1e-3 K."""


def surroundings(item: Item, ambient: float) -> Surroundings:
    """What the wire of a cable lies in: still air at the robot's ambient temperature."""
    return Surroundings(ambient=ambient, conductivity=_conductivity(item))


def _conductivity(item: Item) -> float:
    """Of an item's insulation [W/(m·K)]."""
    return item.cover.conductivity if item.cover else 0.2


def settled_temperatures(
    items: Sequence[Item], rms: Floats, ambient: float, *, grouping: float
) -> Floats:
    """Temperatures that the items settle at.

    Args:
        items: E items of a circuit.
        rms: Their currents, (..., E) [A].
        ambient: [K]
        grouping: Share of a lone wire's current allowed in the bundle.

    Returns:
        Of copper or contact, (..., E) [K]; inf: runs away; nan for items of which nothing is
        known (fuses, switches, regulators, wire or rating not stated).
    """
    warm = np.full(rms.shape, np.nan)
    for kind, columns in _alike(_Same(tuple(items))):
        current = rms[..., columns]
        if isinstance(kind, _Laid):
            around = Surroundings(ambient=ambient, conductivity=kind.conductivity)
            warm[..., columns] = wire_temperature(kind.wire, around, np.abs(current) / grouping)
        elif isinstance(kind, Contact):
            warm[..., columns] = ambient + temperature_rise(kind, current)
        else:
            warm[..., columns] = ambient + track_rise(kind, current, Board(), ambient)
    return warm


class _Laid(NamedTuple):
    """A kind of wire in its insulation."""

    wire: Wire
    conductivity: float


class _Same:
    """The very same items: to compare a hundred by what they are costs more than to sort them."""

    def __init__(self, items: tuple[Item, ...]) -> None:
        self.items = items

    def __hash__(self) -> int:
        return id(self.items)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.items is other.items


@lru_cache(maxsize=16)
def _alike(same: _Same) -> list[tuple[_Laid | Contact | Track, NDArray[np.int64]]]:
    """What of the items can warm, each kind once, and the places of its items."""
    kinds: dict[_Laid | Contact | Track, list[int]] = {}
    for at, item in enumerate(same.items):
        kind: _Laid | Contact | Track | None = item.contact or item.track
        if item.wire is not None:
            kind = _Laid(item.wire, _conductivity(item))
        if kind is not None:
            kinds.setdefault(kind, []).append(at)
    return [(kind, np.array(columns)) for kind, columns in kinds.items()]


def wire_temperature(wire: Wire, around: Surroundings, current: Floats) -> Floats:
    """Where a lone wire settles under currents [K]; inf where it would melt first.

    The same balance as `ampacity.steady_temperature`, read off a curve that is reckoned once
    for each kind of wire.
    """
    currents, copper = _curve(wire, around)
    warm = np.interp(current, currents, copper)
    return np.where(np.isnan(current), np.nan, np.where(current > currents[-1], np.inf, warm))


@lru_cache(maxsize=64)
def _curve(wire: Wire, around: Surroundings) -> tuple[Floats, Floats]:
    """Currents and the copper temperatures they settle at, both rising, by surface."""
    rise = np.geomspace(1e-3, MELTING - around.ambient, _POINTS)
    loss = heat_loss(wire, around.ambient + rise, around)
    copper = around.ambient + rise + conduction_drop(wire, loss, around)
    current = np.sqrt(loss / (wire.per_metre * resistance_ratio(copper)))
    solid = copper < MELTING
    return np.append(0.0, current[solid]), np.append(around.ambient, copper[solid])
