"""How warm a wire gets, and how much current it may carry for ever.

A horizontal wire in still air: the copper's heat goes through the insulation, then by natural
convection and radiation to the surroundings. Wires that lie together are reckoned at their
current over the grouping factor.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite, sqrt

import numpy as np
from numpy.typing import ArrayLike

from legwright.electrics.air import SEA_LEVEL, natural_convection, radiation
from legwright.electrics.copper import MELTING, Wire, resistance_ratio
from legwright.errors import RequestError
from legwright.robot.tree import Floats

GROUPING: dict[int, float] = {
    1: 1.00,
    2: 0.80,
    3: 0.70,
    4: 0.65,
    5: 0.60,
    6: 0.57,
    7: 0.54,
    8: 0.52,
    9: 0.50,
    12: 0.45,
    16: 0.41,
    20: 0.38,
}
"""Loaded circuits bunched in air or enclosed -> share of the current of a lone one;
IEC 60364-5-52 table B.52.17 item 1."""

_HALVINGS = 50
"""Bisection steps: 1e-12 K of a 1000 K bracket."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What a wire lies in."""

    ambient: float
    """[K]"""
    pressure: float = SEA_LEVEL
    """Of the air [Pa]."""
    emissivity: float = 0.9
    """Of the insulation; 0.9 for most plastics (common practice)."""
    conductivity: float = 0.2
    """Thermal, of the insulation [W/(m·K)]."""

    def __post_init__(self) -> None:
        if not (isfinite(self.ambient) and 150.0 <= self.ambient <= 500.0):
            raise RequestError("ambient temperature in K", self.ambient, "between 150 and 500")
        if not (isfinite(self.pressure) and self.pressure > 0.0):
            raise RequestError("pressure in Pa", self.pressure, "above 0")
        if not 0.0 <= self.emissivity <= 1.0:
            raise RequestError("emissivity", self.emissivity, "between 0 and 1")
        if not (isfinite(self.conductivity) and self.conductivity > 0.0):
            raise RequestError("thermal conductivity", self.conductivity, "above 0")


def grouping_factor(circuits: int) -> float:
    """Share of a lone circuit's current that each of several bunched ones may carry.

    Args:
        circuits: Loaded circuits that lie together; between rows of the table the larger row
            counts, beyond 20 the factor falls as 1/√n from there.

    Raises:
        RequestError: for fewer than one circuit.

    Source: IEC 60364-5-52 table B.52.17 item 1; beyond 20 the 1/√n law of its B.52.5.2.
    """
    if circuits < 1:
        raise RequestError("loaded circuits", circuits, "1 or more")
    if circuits > 20:
        return GROUPING[20] * sqrt(20.0 / circuits)
    return next(factor for rows, factor in GROUPING.items() if rows >= circuits)


def mixed_grouping_factor(circuits: int) -> float:
    """The same for circuits of different sizes: 1/√n; IEC 60364-5-52 B.52.5.2."""
    if circuits < 1:
        raise RequestError("loaded circuits", circuits, "1 or more")
    return 1.0 / sqrt(circuits)


def heat_loss(wire: Wire, surface: ArrayLike, around: Surroundings) -> Floats:
    """Heat that one metre of wire gives off at a surface temperature [W/m].

    Args:
        wire: Kind of wire.
        surface: Temperature of the insulation's outside [K].
        around: What it lies in.
    """
    warm = np.asarray(surface, dtype=np.float64)
    film = natural_convection(wire.outside, warm, around.ambient, around.pressure)
    flux = film * (warm - around.ambient) + radiation(warm, around.ambient, around.emissivity)
    return np.asarray(np.pi * wire.outside * flux)


def conduction_drop(wire: Wire, heat: ArrayLike, around: Surroundings) -> Floats:
    """Temperature difference across the insulation for a heat per metre [K].

    Source: radial conduction through a tube, ΔT = q' ln(Do / Di) / (2 π k), textbook.
    """
    thickness = np.log(wire.outside / wire.diameter)
    watts = np.asarray(heat, dtype=np.float64)
    return np.asarray(watts * thickness / (2.0 * np.pi * around.conductivity))


def steady_heat(wire: Wire, temperature: ArrayLike, around: Surroundings) -> Floats:
    """Heat per metre that keeps the copper at a temperature [W/m].

    Args:
        wire: Kind of wire.
        temperature: Of the copper, at or above ambient [K].
        around: What the wire lies in.
    """
    copper = np.asarray(temperature, dtype=np.float64)
    if copper.ndim == 0:
        return np.asarray(_heat_once(wire, float(copper), around))
    return _steady_heat(wire, copper, around)


@lru_cache(maxsize=256)
def _heat_once(wire: Wire, temperature: float, around: Surroundings) -> float:
    return float(_steady_heat(wire, np.asarray(temperature), around))


def _steady_heat(wire: Wire, copper: Floats, around: Surroundings) -> Floats:
    def too_warm(surface: Floats) -> Floats:
        loss = heat_loss(wire, surface, around)
        return np.asarray(surface + conduction_drop(wire, loss, around) - copper)

    low = np.full_like(copper, around.ambient)
    surface = _bisected(too_warm, low, np.maximum(copper, around.ambient))
    return heat_loss(wire, surface, around)


def continuous_current(
    wire: Wire, limit: ArrayLike, around: Surroundings, *, grouping: float = 1.0
) -> Floats:
    """Current that settles the copper exactly at a temperature.

    Args:
        wire: Kind of wire.
        limit: Highest copper temperature [K].
        around: What the wire lies in.
        grouping: Share of a lone wire's current allowed in the bundle, above 0.

    Returns:
        RMS current [A]; 0 where the ambient is at or above the limit.

    Source: balance of Joule heat (IEC 60028) with natural convection (Churchill and Chu
    1975) and radiation, times the grouping factor of IEC 60364-5-52.
    """
    _share("grouping factor", grouping)
    hot = np.asarray(limit, dtype=np.float64)
    room = np.where(hot > around.ambient, steady_heat(wire, hot, around), 0.0)
    return np.asarray(grouping * np.sqrt(room / (wire.per_metre * resistance_ratio(hot))))


def steady_temperature(
    wire: Wire, current: ArrayLike, around: Surroundings, *, grouping: float = 1.0
) -> Floats:
    """Where the copper settles under a current.

    Args:
        wire: Kind of wire.
        current: RMS over a time that is short against the wire's time constant [A].
        around: What the wire lies in.
        grouping: Share of a lone wire's current allowed in the bundle, above 0.

    Returns:
        Temperature [K]; inf where it would melt first, nan where the current is nan.
    """
    _share("grouping factor", grouping)
    lone = np.asarray(current, dtype=np.float64) / grouping
    if lone.ndim == 0:
        return np.asarray(_temperature_once(wire, float(lone), around))
    return _steady_temperature(wire, lone, around)


@lru_cache(maxsize=256)
def _temperature_once(wire: Wire, lone: float, around: Surroundings) -> float:
    return float(_steady_temperature(wire, np.asarray(lone), around))


def _steady_temperature(wire: Wire, lone: Floats, around: Surroundings) -> Floats:
    square = lone * lone * wire.per_metre

    def too_warm(surface: Floats) -> Floats:
        loss = heat_loss(wire, surface, around)
        copper = surface + conduction_drop(wire, loss, around)
        return np.asarray(loss - square * resistance_ratio(copper))

    low = np.full_like(lone, around.ambient)
    surface = _bisected(too_warm, low, np.full_like(lone, 2.0 * MELTING))
    copper = surface + conduction_drop(wire, heat_loss(wire, surface, around), around)
    copper = np.where(lone == 0.0, around.ambient, copper)
    return np.where(np.isnan(lone), np.nan, np.where(copper >= MELTING, np.inf, copper))


def _share(what: str, value: float) -> None:
    if not 0.0 < value <= 1.0:
        raise RequestError(what, value, "above 0 and at most 1")


def _bisected(above: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Where a rising function crosses zero, elementwise."""
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        over = above(middle) > 0.0
        high = np.where(over, middle, high)
        low = np.where(over, low, middle)
    return 0.5 * (low + high)
