"""Short overloads and faults: how fast a conductor heats, and when it melts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from legwright.electrics.ampacity import Surroundings, conduction_drop, heat_loss
from legwright.electrics.copper import FREEZING, MELTING, ZERO_RESISTANCE, Wire, resistance_ratio
from legwright.errors import RequestError
from legwright.robot.tree import Floats

ADIABATIC = 226e6
"""Copper's constant [A·√s/m²]; IEC 60949: 226 A·√s/mm²."""

HEAT_CAPACITY = 3.45e6
"""Of copper by volume at 20 °C [J/(K·m³)]; IEC 60949."""

ONDERDONK_MELTING = 1083.0 + FREEZING
"""Melting point that Onderdonk's equation was published with [K]."""

CIRCULAR_MIL = np.pi / 4.0 * 25.4e-6**2
"""[m²]"""

_INCH = 0.0254
_STEPS = 400


def adiabatic_constant(start: float, end: float) -> float:
    """Copper's k for heating without loss between two temperatures [A·√s/m²].

    Args:
        start: Copper temperature before [K].
        end: After [K].

    Source: IEC 60949, k = 226 √ln((234.5 + θf) / (234.5 + θi)); tables of IEC 60364-4-43.
    """
    if not end >= start > FREEZING - ZERO_RESISTANCE:
        raise RequestError("end temperature in K", end, f"at least the start, {start:g} K")
    offset = ZERO_RESISTANCE - FREEZING
    return float(ADIABATIC * np.sqrt(np.log((offset + end) / (offset + start))))


def withstand(area: float, start: float, end: float) -> float:
    """Joule integral I²t that heats a conductor from start to end without loss [A²·s].

    Args:
        area: Copper cross-section [m²].
        start: Copper temperature before [K].
        end: After [K].

    Source: IEC 60364-4-43, I²t = k²S².
    """
    return (adiabatic_constant(start, end) * area) ** 2


def adiabatic_time(area: float, current: ArrayLike, start: float, end: float) -> Floats:
    """Time to heat a conductor from start to end without loss [s]; inf without current."""
    i = np.asarray(current, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.asarray(withstand(area, start, end) / (i * i))


def adiabatic_temperature(area: float, joule: ArrayLike, start: float) -> Floats:
    """Temperature after a Joule integral, without loss [K].

    Args:
        area: Copper cross-section [m²].
        joule: I²t [A²·s].
        start: Copper temperature before [K].

    Returns:
        Temperature; inf from the melting point on.
    """
    offset = ZERO_RESISTANCE - FREEZING
    growth = np.minimum(np.asarray(joule, np.float64) / (ADIABATIC * area) ** 2, 50.0)
    end = (offset + start) * np.exp(growth) - offset
    return np.where(end >= MELTING, np.inf, end)


def heating_time(
    wire: Wire,
    current: ArrayLike,
    start: float,
    end: float,
    around: Surroundings,
    *,
    grouping: float = 1.0,
) -> Floats:
    """Time in which a current heats a wire from start to end, losing heat on the way.

    The copper alone stores heat: the insulation's share is left out, which is cautious.

    Args:
        wire: Kind of wire.
        current: Constant, (...) [A].
        start: Copper temperature before, at or above ambient [K].
        end: The temperature asked about, above the start [K].
        around: What the wire lies in.
        grouping: Share of a lone wire's current allowed in the bundle: its square is the share
            of a lone wire's heat loss.

    Returns:
        Time, (...) [s]; inf where the wire settles below the end temperature.

    Source: heat balance of one metre of wire, ∫ C dT / (I² r(T) - q(T)); storage IEC 60949.
    """
    if end <= start:
        raise RequestError("end temperature in K", end, f"above the start, {start:g} K")
    copper = np.linspace(start, end, _STEPS + 1)
    loss = grouping * grouping * _loss_at(wire, copper, around)
    i = np.asarray(current, dtype=np.float64)[..., None]
    net = i * i * wire.per_metre * resistance_ratio(copper) - loss
    with np.errstate(divide="ignore"):
        rate = np.where(net > 0.0, 1.0 / np.where(net > 0.0, net, 1.0), np.inf)
    slices = np.diff(copper) * 0.5 * (rate[..., 1:] + rate[..., :-1])
    return np.asarray(HEAT_CAPACITY * wire.area * slices.sum(axis=-1))


def _loss_at(wire: Wire, copper: Floats, around: Surroundings) -> Floats:
    """Heat lost per metre at copper temperatures [W/m], by interpolation over the surface."""
    surface = np.linspace(around.ambient, max(float(copper[-1]), around.ambient + 1.0), _STEPS)
    loss = heat_loss(wire, surface, around)
    return np.interp(copper, surface + conduction_drop(wire, loss, around), loss)


def time_constant(wire: Wire, current: float, around: Surroundings, settled: float) -> float:
    """First-order time constant of a wire near where it settles [s].

    Args:
        wire: Kind of wire.
        current: RMS [A].
        around: What the wire lies in.
        settled: Copper temperature that it settles at, above ambient [K].
    """
    if settled <= around.ambient:
        raise RequestError("settled temperature in K", settled, "above ambient")
    heat = current * current * wire.per_metre * float(resistance_ratio(settled))
    return HEAT_CAPACITY * wire.area * (settled - around.ambient) / heat


def preece(diameter: ArrayLike) -> Floats:
    """Current that melts a bare copper wire in free air at last [A].

    Args:
        diameter: [m]

    Source: Preece, Proc. Royal Society (1884-1888), I = 10244 d^1.5 with d in inches.
    """
    return np.asarray(10244.0 * (np.asarray(diameter, np.float64) / _INCH) ** 1.5)


def onderdonk(
    area: ArrayLike, time: ArrayLike, ambient: float, *, melting: float = ONDERDONK_MELTING
) -> Floats:
    """Current that melts a copper wire within a short time [A].

    Args:
        area: Copper cross-section [m²].
        time: Up to about 10 s [s].
        ambient: [K]
        melting: Temperature that counts as molten [K].

    Source: Onderdonk after Stauffacher, G.E. Review (1928):
    33 (I/A)² t = log10((Tm - Ta) / (234 + Ta) + 1), A in circular mils, °C.
    """
    theta = ambient - FREEZING
    growth = np.log10((melting - ambient) / (234.0 + theta) + 1.0)
    mils = np.asarray(area, dtype=np.float64) / CIRCULAR_MIL
    return np.asarray(mils * np.sqrt(growth / (33.0 * np.asarray(time, np.float64))))
