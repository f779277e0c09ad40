"""Copper conductors: how thick, and how much they resist, cold and hot.

Sizes are American wire gauge (ASTM B258) or metric cross-sections (IEC 60228); temperatures
are absolute.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import isfinite, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError
from legwright.robot.tree import Floats

RESISTIVITY = 1e-6 / 58.0
"""Of annealed copper at 20 °C [Ω·m]; IEC 60028:1925."""

DENSITY = 8890.0
"""Of copper [kg/m³]; IEC 60028:1925."""

ZERO_RESISTANCE = 234.5
"""Copper's resistance would vanish at minus this many °C, if it stayed linear; IEC 60028."""

FREEZING = 273.15
"""0 °C [K]."""

MELTING = 1084.6 + FREEZING
"""Copper's melting point [K]."""

THICKEST, THINNEST = -3, 40
"""Gauges that are known here: 4/0 is written -3."""

FLEXIBLE: dict[float, tuple[float, float]] = {
    0.5: (39.0, 40.1),
    0.75: (26.0, 26.7),
    1.0: (19.5, 20.0),
    1.5: (13.3, 13.7),
    2.5: (7.98, 8.21),
    4.0: (4.95, 5.09),
    6.0: (3.30, 3.39),
    10.0: (1.91, 1.95),
    16.0: (1.21, 1.24),
}
"""IEC 60228:2004 class 5, fine strands: mm² -> highest Ω/km at 20 °C, plain and tinned.
Above 4 mm² from memory."""

STIFF: dict[float, float] = {
    0.5: 36.0,
    0.75: 24.5,
    1.0: 18.1,
    1.5: 12.1,
    2.5: 7.41,
    4.0: 4.61,
    6.0: 3.08,
    10.0: 1.83,
    16.0: 1.15,
}
"""IEC 60228:2004 class 1 and 2, solid and stranded, plain: mm² -> highest Ω/km at 20 °C.
Above 4 mm² from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """One kind of insulated copper conductor."""

    name: str
    """As it is ordered: ``20 AWG``, ``1.5 mm²``."""
    area: float
    """Copper cross-section [m²]."""
    per_metre: float
    """Resistance at 20 °C [Ω/m]."""
    outside: float
    """Diameter over the insulation [m]."""

    def __post_init__(self) -> None:
        for what in ("area", "per_metre", "outside"):
            value = getattr(self, what)
            if not (isfinite(value) and value > 0.0):
                raise RequestError(f"{what} of wire {self.name}", value, "finite and above 0")
        if self.outside < self.diameter:
            raise RequestError(
                f"outside diameter of wire {self.name}",
                self.outside,
                f"at least the copper's {self.diameter:.3g} m",
            )

    @property
    def diameter(self) -> float:
        """Of a solid conductor of the same area [m]."""
        return sqrt(4.0 * self.area / pi)


def resistance_ratio(temperature: ArrayLike) -> Floats:
    """Resistance of copper over that at 20 °C.

    Args:
        temperature: Of the copper [K].

    Returns:
        R / R20, same shape; 0 where the linear law would go below.

    Source: IEC 60028:1925 in the form (234.5 + θ) / 254.5, θ in °C.
    """
    theta = np.asarray(temperature, dtype=np.float64) - FREEZING
    return np.maximum((ZERO_RESISTANCE + theta) / (ZERO_RESISTANCE + 20.0), 0.0)


def gauge_number(gauge: str | int) -> int:
    """Number of an American wire gauge.

    Args:
        gauge: ``"20 AWG"``, ``"AWG 20"``, ``"2/0 AWG"``, ``"20"`` or 20; 2/0 is -1, 4/0 is -3.

    Returns:
        The number, -3 to 40.

    Raises:
        RequestError: where no such gauge is known.
    """
    allowed = "an American wire gauge from 4/0 to 40, like '20 AWG'"
    number = gauge
    if isinstance(gauge, str):
        bare = re.sub(r"awg|\s", "", gauge, flags=re.IGNORECASE)
        if re.fullmatch(r"[1-4]/0", bare):
            number = 1 - int(bare[0])
        elif re.fullmatch(r"-?\d{1,2}", bare):
            number = int(bare)
    if isinstance(number, bool) or not isinstance(number, int):
        raise RequestError("wire gauge", gauge, allowed)
    if not THICKEST <= number <= THINNEST:
        raise RequestError("wire gauge", gauge, allowed)
    return number


def gauge_diameter(gauge: str | int) -> float:
    """Diameter of the solid conductor of a gauge [m].

    Source: ASTM B258, d = 0.127 mm · 92^((36 - n) / 39).
    """
    return float(0.127e-3 * 92.0 ** ((36 - gauge_number(gauge)) / 39.0))


def gauge_area(gauge: str | int) -> float:
    """Copper cross-section of a gauge [m²]; ASTM B258."""
    return pi / 4.0 * gauge_diameter(gauge) ** 2


@lru_cache(maxsize=64)
def gauge_wire(gauge: str | int, *, wall: float = 0.4e-3, outside: float | None = None) -> Wire:
    """A wire by gauge, with the resistance of a solid conductor of that area.

    Args:
        gauge: As `gauge_number` takes it.
        wall: Thickness of the insulation [m], where the outside diameter is not known.
        outside: Diameter over the insulation [m].

    Returns:
        Wire. Stranded makes differ by a few per cent either way: where a data sheet states
        Ω/km, build a Wire with it.

    Source: ASTM B258, IEC 60028.
    """
    number, area = gauge_number(gauge), gauge_area(gauge)
    name = f"{number} AWG" if number > 0 else f"{1 - number}/0 AWG"
    over = _strands(area) + 2.0 * wall if outside is None else outside
    return Wire(name=name, area=area, per_metre=RESISTIVITY / area, outside=over)


@lru_cache(maxsize=64)
def metric_wire(
    area: float,
    *,
    stiff: bool = False,
    tinned: bool = False,
    wall: float = 0.6e-3,
    outside: float | None = None,
) -> Wire:
    """A wire by metric cross-section, with the highest resistance that its class allows.

    Args:
        area: Nominal cross-section [m²], one of the standard sizes.
        stiff: Class 1 or 2 instead of class 5 (fine strands).
        tinned: Tinned strands; class 5 only.
        wall: Thickness of the insulation [m], where the outside diameter is not known.
        outside: Diameter over the insulation [m].

    Raises:
        RequestError: for a cross-section that the table does not hold.

    Source: IEC 60228:2004 tables 1 to 3.
    """
    nominal = round(area * 1e6, 6)
    if nominal not in FLEXIBLE:
        sizes = ", ".join(f"{size:g}" for size in FLEXIBLE)
        raise RequestError("cross-section in mm²", nominal, f"one of {sizes}")
    if stiff and tinned:
        raise RequestError("tinned", tinned, "False for class 1 and 2: no table here")
    per_km = STIFF[nominal] if stiff else FLEXIBLE[nominal][1 if tinned else 0]
    over = _strands(area) + 2.0 * wall if outside is None else outside
    return Wire(name=f"{nominal:g} mm²", area=area, per_metre=per_km / 1e3, outside=over)


def _strands(area: float) -> float:
    """Diameter of a stranded conductor: 1.13 times the solid one (common practice)."""
    return 1.13 * sqrt(4.0 * area / pi)


def wire_resistance(
    wire: Wire, length: ArrayLike, temperature: ArrayLike = 293.15, *, conductors: int = 2
) -> Floats:
    """Resistance of a run of wire.

    Args:
        wire: Kind of wire.
        length: One way [m].
        temperature: Of the copper [K].
        conductors: 2 there and back, 1 where the return is something else.

    Returns:
        Resistance [Ω].
    """
    metres = conductors * np.asarray(length, dtype=np.float64)
    return np.asarray(metres * wire.per_metre * resistance_ratio(temperature))


def voltage_drop(current: ArrayLike, resistance: ArrayLike) -> Floats:
    """Voltage lost in a resistance [V]; Ohm."""
    return np.asarray(np.asarray(current, dtype=np.float64) * np.asarray(resistance))


def hot_length(length: float, temperature: float) -> float:
    """Longest run at a hot conductor that drops no more than a length at 20 °C does.

    Args:
        length: Allowed at 20 °C [m].
        temperature: Of the conductor [K].

    Source: FAA AC 43.13-1B, 11-66: L2 = 254.5 L1 / (234.5 + T2).
    """
    return length / float(resistance_ratio(temperature))


def copper_mass(wire: Wire, length: ArrayLike) -> Floats:
    """Mass of the copper in one conductor of a length [kg], insulation left out."""
    metres = np.asarray(length, dtype=np.float64)
    return np.asarray(metres * (wire.area * DENSITY))
