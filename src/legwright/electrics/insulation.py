"""What a wire's insulation bears: continuous and short-time temperature, and voltage."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from legwright.electrics.copper import FREEZING
from legwright.errors import RequestError, did_you_mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Insulation:
    """One insulating material as sold on wire."""

    name: str
    continuous: float
    """Highest conductor temperature for its whole life [K]."""
    short_time: float
    """Highest conductor temperature for a fault of a few seconds [K]."""
    voltage: float
    """Rated voltage [V]."""
    conductivity: float
    """Thermal [W/(m·K)]."""
    source: str


def _celsius(theta: float) -> float:
    return theta + FREEZING


WIRE_INSULATION: dict[str, Insulation] = {
    kind.name: kind
    for kind in (
        Insulation(
            name="PVC 70",
            continuous=_celsius(70.0),
            short_time=_celsius(160.0),
            voltage=300.0,
            conductivity=1.0 / 5.0,
            source="IEC 60364-4-43 table 43A, IEC 60287-2-1 (from memory)",
        ),
        Insulation(
            name="PVC 80",
            continuous=_celsius(80.0),
            short_time=_celsius(160.0),
            voltage=300.0,
            conductivity=1.0 / 5.0,
            source="UL style 1007: 80 °C, 300 V; short time as PVC of IEC 60364-4-43",
        ),
        Insulation(
            name="PVC 105",
            continuous=_celsius(105.0),
            short_time=_celsius(160.0),
            voltage=600.0,
            conductivity=1.0 / 5.0,
            source="UL style 1015: 105 °C, 600 V; short time as PVC of IEC 60364-4-43",
        ),
        Insulation(
            name="XLPE 90",
            continuous=_celsius(90.0),
            short_time=_celsius(250.0),
            voltage=600.0,
            conductivity=1.0 / 3.5,
            source="IEC 60364-4-43 table 43A, IEC 60287-2-1 (from memory)",
        ),
        Insulation(
            name="silicone",
            continuous=_celsius(180.0),
            short_time=_celsius(250.0),
            voltage=300.0,
            conductivity=0.2,
            source="common practice, no published source; short time as the IEC's rubbers",
        ),
        Insulation(
            name="PTFE",
            continuous=_celsius(200.0),
            short_time=_celsius(260.0),
            voltage=300.0,
            conductivity=0.25,
            source="common practice, no published source",
        ),
    )
}
"""Wire insulation by name."""

THERMAL_CLASSES: dict[str, float] = {
    "A": _celsius(105.0),
    "E": _celsius(120.0),
    "B": _celsius(130.0),
    "F": _celsius(155.0),
    "H": _celsius(180.0),
}
"""Insulation classes of windings, highest temperature [K]; IEC 60085."""


def insulation(name: str) -> Insulation:
    """A wire insulation by its name.

    Args:
        name: For example ``PVC 105``; letter case and blanks do not matter.

    Raises:
        RequestError: for a name that is not in the table.
    """
    wanted = name.replace(" ", "").casefold()
    for known, kind in WIRE_INSULATION.items():
        if known.replace(" ", "").casefold() == wanted:
            return kind
    raise RequestError("insulation", name, f"a known kind. {did_you_mean(name, WIRE_INSULATION)}")


def class_temperature(letter: str) -> float:
    """Highest temperature of an insulation class [K]; IEC 60085.

    Raises:
        RequestError: for a letter that names no class.
    """
    try:
        return THERMAL_CLASSES[letter]
    except KeyError:
        raise RequestError("insulation class", letter, "A, E, B, F or H") from None


@lru_cache(maxsize=64)
def rated(name: str, highest: float | None) -> Insulation:
    """A wire insulation, its continuous temperature overruled where a sheet states one.

    Args:
        name: A known insulation; empty for the least durable of the table.
        highest: Continuous conductor temperature from a data sheet [K].

    Raises:
        RequestError: for an unknown name, or a temperature that no insulation bears.
    """
    kind = WIRE_INSULATION["PVC 70"] if not name.strip() else insulation(name)
    if highest is None:
        return kind
    if not 250.0 <= highest <= 700.0:
        raise RequestError("highest wire temperature in K", highest, "between 250 and 700")
    return Insulation(
        name=kind.name,
        continuous=highest,
        short_time=max(kind.short_time, highest),
        voltage=kind.voltage,
        conductivity=kind.conductivity,
        source="data sheet for the continuous temperature; else " + kind.source,
    )
