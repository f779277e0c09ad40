"""How warm the items of a circuit settle under their RMS currents."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from legwright.electrics.ampacity import Surroundings, conduction_drop, heat_loss
from legwright.electrics.board import Board, track_rise
from legwright.electrics.contacts import temperature_rise
from legwright.electrics.copper import MELTING, Wire, resistance_ratio
from legwright.electrics.parts import Item
from legwright.robot.tree import Floats

_POINTS = 4000
"""Of a curve; read off within 1e-3 K."""


def surroundings(item: Item, ambient: float) -> Surroundings:
    """What the wire of a cable lies in: still air at the robot's ambient temperature."""
    conductivity = item.cover.conductivity if item.cover else 0.2
    return Surroundings(ambient=ambient, conductivity=conductivity)


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
    for at, item in enumerate(items):
        current = rms[..., at]
        if item.wire is not None:
            lone = np.abs(current) / grouping
            warm[..., at] = wire_temperature(item.wire, surroundings(item, ambient), lone)
        elif item.contact is not None:
            warm[..., at] = ambient + temperature_rise(item.contact, current)
        elif item.track is not None:
            warm[..., at] = ambient + track_rise(item.track, current, Board(), ambient)
    return warm


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
