"""The left of the schematic: battery, fuse, switch and the cables to the hub."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from legwright.electrics.circuit import Circuit
from legwright.electrics.parts import Item, Kind
from legwright.electrics.readings import Readings
from legwright.views import circuit_signs as signs
from legwright.views import tokens
from legwright.views.ink import Ink
from legwright.views.lettering import Face
from legwright.views.numbers import significant

Y = 78.0
"""Height of the main line [mm]."""
BATTERY = 13.0
"""Centre of the battery [mm]."""
_CHEMISTRY = {
    "lithium-polymer": "LiPo",
    "lithium-ion": "Li-ion",
    "lithium-iron-phosphate": "LiFePO₄",
}
_SPAN = {Kind.FUSE: 8.0, Kind.SWITCH: 9.0, Kind.CONNECTOR: 3.6, Kind.REGULATOR: 8.0}
"""Widths of signs [mm]; cables share the rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mains:
    """What was drawn."""

    y: float
    battery: float
    """Where the battery's terminals stand on the ladder [mm]."""
    hub_left: float
    extents: dict[str, tuple[float, float]]
    """Designation -> left and right end [mm]."""
    heads: tuple[tuple[float, str], ...]
    """Column names: centre and words."""
    drops: tuple[tuple[float, float], ...]
    """Drop lines to the ladder: x and upper end [mm]."""


def draw_mains(
    ink: Ink, circuit: Circuit, readings: Readings, items: Sequence[Item], *, hub_left: float
) -> Mains:
    """Draws battery and mains up to the hub.

    Args:
        ink: Where to.
        circuit: The circuit.
        readings: For the words under the battery.
        items: From the battery to the hub, the hub last.
        hub_left: Where the hub should start; farther right where the items need it [mm].

    Returns:
        Where everything went.
    """
    line = [item for item in items if item.kind is not Kind.HUB]
    fixed = sum(_SPAN.get(item.kind, 0.0) + 0.8 for item in line)
    cables = [item for item in line if item.kind is Kind.CABLE]
    start = BATTERY + 7.0
    room = hub_left - start - fixed
    each = max(room / max(len(cables), 1), 9.0) if cables else 0.0
    gap = 0.8 if cables else max((hub_left - start - fixed) / (len(line) + 1), 0.8)
    used = fixed + each * len(cables) + (gap * (len(line) + 1) if not cables else 0.0)
    hub_left = max(hub_left, start + used)
    extents, heads, drops = _line(ink, line, start, hub_left, each, gap)
    _battery(ink, circuit, readings)
    heads.insert(0, (BATTERY, "battery"))
    drops.insert(0, (BATTERY, Y + 22.0))
    return Mains(
        y=Y,
        battery=BATTERY,
        hub_left=hub_left,
        extents=extents,
        heads=tuple(heads),
        drops=tuple(drops),
    )


_Found = tuple[dict[str, tuple[float, float]], list[tuple[float, str]], list[tuple[float, float]]]


def _line(ink: Ink, line: Sequence[Item], x: float, end: float, each: float, gap: float) -> _Found:
    weights = [signs.weight_of(item) for item in line if item.kind is Kind.CABLE]
    weight = max(weights, default=tokens.THICK)
    ink.line(x, Y, end, Y, weight=weight)
    extents: dict[str, tuple[float, float]] = {}
    heads: list[tuple[float, str]] = []
    drops: list[tuple[float, float]] = []
    for item in line:
        span = each if item.kind is Kind.CABLE else _SPAN.get(item.kind, 0.0)
        x += gap / 2.0 if item.kind is Kind.CABLE else gap
        left, right = x, x + span
        extents[item.designation] = (left, right)
        with ink.part(item.designation):
            if item.kind is Kind.CABLE:
                ink.line(left, Y, right, Y, weight=weight)
            _sign(ink, item, left, right, weight)
        if item.kind in {Kind.FUSE, Kind.SWITCH}:
            heads.append(((left + right) / 2, "fuse" if item.kind is Kind.FUSE else "switch"))
            drops.append(((left + right) / 2, Y + (9.0 if left > BATTERY + 28.0 else 22.0)))
        x = right
    return extents, heads, drops


def _sign(ink: Ink, item: Item, left: float, right: float, weight: float) -> None:
    centre = (left + right) / 2.0
    if item.kind is Kind.FUSE:
        signs.fuse(ink, centre, Y)
        _name(ink, centre, Y - 3.4, item.designation)
        signs.letters(ink, centre, Y + 5.4, signs.rated(item.rating), anchor="middle")
    elif item.kind is Kind.SWITCH:
        signs.switch(ink, centre, Y, weight)
        _name(ink, centre + 7.3, Y - 9.6, item.designation)
        signs.letters(ink, centre, Y + 5.4, signs.rated(item.rating), anchor="middle")
        signs.letters(ink, centre, Y - 14.0, "main switch", anchor="middle")
    elif item.kind is Kind.CONNECTOR:
        signs.plug(ink, centre, Y)
        signs.letters(ink, centre, Y - 2.2, item.designation, anchor="middle", face=Face.LETTER)
    elif item.kind is Kind.CABLE:
        signs.letters(ink, centre, Y - 5.6, item.designation, anchor="middle")
        signs.letters(ink, centre, Y + 4.4, signs.size_words(item), anchor="middle")
        signs.letters(ink, centre, Y + 7.6, signs.length_words(item), anchor="middle")
    elif item.kind is Kind.REGULATOR:
        signs.regulator(ink, centre, Y)
        signs.letters(ink, centre, Y - 5.0, item.designation, anchor="middle")


def _name(ink: Ink, x: float, y: float, words: str) -> None:
    signs.letters(ink, x, y, words, size=tokens.SMALL, face=Face.LETTER_STRONG, anchor="middle")


def _battery(ink: Ink, circuit: Circuit, readings: Readings) -> None:
    with ink.part(circuit.battery):
        _cells(ink, circuit, readings)


def _cells(ink: Ink, circuit: Circuit, readings: Readings) -> None:
    signs.battery(ink, BATTERY, Y)
    ink.text(BATTERY - 7.0, Y - 9.6, circuit.battery, size=tokens.SMALL, face=Face.LETTER_STRONG)
    pack = circuit.pack
    cells = f"{pack.series}S{pack.parallel}P" if pack.parallel > 1 else f"{pack.series} cells"
    ohms = pack.series * pack.cell_resistance / pack.parallel
    current = readings.current.get(circuit.battery)
    lines = [
        f"{cells} {_CHEMISTRY.get(pack.chemistry, pack.chemistry)}",
        f"{significant(pack.capacity / 3600.0)}\u202fA·h, {significant(ohms * 1000.0)}\u202fmΩ",
        f"worked at {signs.volts(readings.voltage['battery'])}\u202fV"
        + ("" if current is None else f", {signs.amps(current)}"),
    ]
    for row, words in enumerate(lines):
        signs.letters(
            ink, BATTERY - 7.0, Y + 11.4 + 3.3 * row, words, colour="ink" if row < 2 else "ink2"
        )
