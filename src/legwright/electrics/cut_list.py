"""The cut list: how many pieces of which wire, how long, and how much of each to buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

from legwright.electrics.copper import DENSITY, Wire
from legwright.electrics.wire_list import WireRow

INSULATION_DENSITY = 1300.0
"""Of insulation, between silicone rubber and PVC [kg/m³]; common practice, no published
source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """Pieces of one wire that are alike."""

    size: str
    insulation: str
    colour: str
    length: float | None
    """Of each piece [m]; None where it is not known."""
    count: int
    wires: tuple[str, ...]
    """Names of the wires."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireTotal:
    """All of one kind and colour of wire."""

    size: str
    insulation: str
    colour: str
    count: int
    length: float
    """Of all pieces of known length [m]."""
    unknown: int
    """Pieces whose length is not known."""


def cut_list(wires: Sequence[WireRow]) -> tuple[CutRow, ...]:
    """Wires that are alike in kind, colour and length, put together.

    Args:
        wires: The wire list.

    Returns:
        By size, colour, then longest first; lengths count as equal to 0.1 mm.
    """
    groups: dict[tuple[str, str, str, float], list[WireRow]] = {}
    for row in wires:
        length = -1.0 if row.length is None else round(row.length, 4)
        groups.setdefault((row.size, row.insulation, row.colour, length), []).append(row)
    order = sorted(groups, key=lambda key: (*key[:3], -key[3]))
    return tuple(
        CutRow(
            size=key[0],
            insulation=key[1],
            colour=key[2],
            length=None if key[3] < 0.0 else key[3],
            count=len(groups[key]),
            wires=tuple(row.name for row in groups[key]),
        )
        for key in order
    )


def wire_totals(cuts: Sequence[CutRow]) -> tuple[WireTotal, ...]:
    """What to buy of each kind and colour of wire, without waste.

    Args:
        cuts: The cut list.

    Returns:
        In the cut list's order.
    """
    kinds = dict.fromkeys((cut.size, cut.insulation, cut.colour) for cut in cuts)
    totals = []
    for kind in kinds:
        mine = [cut for cut in cuts if (cut.size, cut.insulation, cut.colour) == kind]
        totals.append(
            WireTotal(
                size=kind[0],
                insulation=kind[1],
                colour=kind[2],
                count=sum(cut.count for cut in mine),
                length=sum(cut.count * cut.length for cut in mine if cut.length is not None),
                unknown=sum(cut.count for cut in mine if cut.length is None),
            )
        )
    return tuple(totals)


def mass_per_metre(wire: Wire) -> float:
    """Copper and insulation of one wire, reckoned as a solid conductor in a tube [kg/m].

    Args:
        wire: The wire.
    """
    skin = pi / 4.0 * wire.outside**2 - wire.area
    return DENSITY * wire.area + INSULATION_DENSITY * max(skin, 0.0)
