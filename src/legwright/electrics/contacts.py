"""Connector contacts and terminals: rating, warmth, and which wires go in."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import ArrayLike

from legwright.electrics.copper import Wire
from legwright.errors import RequestError
from legwright.robot.tree import Floats

RATED_RISE = 30.0
"""Rise of a contact at its rated current [K]: the usual test limit (IEC 60512-5-1 and kin,
from memory); data sheets may say otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """One contact of a connector, with its terminal."""

    name: str
    rating: float
    """Current with all neighbours loaded too [A]."""
    resistance: float = 0.0
    """Of one mated contact [Ω]."""
    smallest: float = 0.0
    """Copper cross-section that the terminal still grips [m²]."""
    largest: float = float("inf")
    """Copper cross-section that still goes in [m²]."""
    rise: float = RATED_RISE
    """At the rating [K]."""
    highest: float = 378.15
    """Highest temperature of the housing [K]; 105 °C is usual (common practice)."""

    def __post_init__(self) -> None:
        for what in ("rating", "rise", "highest"):
            value = getattr(self, what)
            if not (isfinite(value) and value > 0.0):
                raise RequestError(f"{what} of {self.name}", value, "finite and above 0")
        if not (isfinite(self.resistance) and self.resistance >= 0.0):
            raise RequestError(f"resistance of {self.name}", self.resistance, "at least 0")
        if not 0.0 <= self.smallest <= self.largest:
            sizes = (self.smallest, self.largest)
            raise RequestError(f"wire sizes of {self.name}", sizes, "smallest, then largest")


TERMINALS: dict[str, tuple[float, float]] = {
    "red": (0.5e-6, 1.5e-6),
    "blue": (1.5e-6, 2.5e-6),
    "yellow": (4.0e-6, 6.0e-6),
}
"""Insulated crimp terminals by colour -> smallest and largest cross-section [m²]; common
practice, no published source."""


def temperature_rise(contact: Contact, current: ArrayLike) -> Floats:
    """Rise of a contact above ambient under a current [K].

    Args:
        contact: The contact.
        current: RMS [A].

    Source: heat grows with the square of the current and flows off in proportion to the rise,
    scaled from the rated point; the basis of derating curves (IEC 60512-5-2, from memory).
    """
    return np.asarray(contact.rise * (np.asarray(current, np.float64) / contact.rating) ** 2)


def derated_current(contact: Contact, ambient: ArrayLike) -> Floats:
    """Current that a contact carries for ever in an ambient [A]; never above its rating.

    Args:
        contact: The contact.
        ambient: [K]

    Source: as `temperature_rise`.
    """
    room = np.maximum(contact.highest - np.asarray(ambient, dtype=np.float64), 0.0)
    return np.asarray(contact.rating * np.minimum(np.sqrt(room / contact.rise), 1.0))


def heat(contact: Contact, current: ArrayLike) -> Floats:
    """Heat made in one contact [W]."""
    return np.asarray(contact.resistance * np.asarray(current, np.float64) ** 2)


def pair_resistance(contact: Contact, *, parallel: int = 1) -> float:
    """Resistance that a connector adds to a supply, there and back [Ω].

    Args:
        contact: One contact.
        parallel: Contacts side by side for each of both ways.
    """
    if parallel < 1:
        raise RequestError("contacts in parallel", parallel, "1 or more")
    return 2.0 * contact.resistance / parallel


def check_fit(contact: Contact, wire: Wire) -> None:
    """Refuse a wire that does not fit a terminal.

    Args:
        contact: With the terminal's wire range.
        wire: Kind of wire.

    Raises:
        RequestError: in one sentence that names both and the range.
    """
    slack = 1e-3  # sizes are nominal: a table's 0.52 mm² and a formula's 0.518 are one size
    if contact.smallest * (1.0 - slack) <= wire.area <= contact.largest * (1.0 + slack):
        return
    side = "thin" if wire.area < contact.smallest else "thick"
    what = f"wire {wire.name} ({wire.area * 1e6:.3g} mm²) in terminal {contact.name}"
    allowed = f"{contact.smallest * 1e6:.3g} to {contact.largest * 1e6:.3g} mm²"
    raise RequestError(what, f"too {side}", allowed)


def terminal_for(wire: Wire) -> str:
    """Colour of the insulated crimp terminal for a wire.

    Raises:
        RequestError: where no colour takes it.
    """
    for colour, (smallest, largest) in TERMINALS.items():
        if smallest <= wire.area * 1.05 and wire.area <= largest * 1.05:
            return colour
    ranges = ", ".join(
        f"{colour} {low * 1e6:g} to {high * 1e6:g} mm²" for colour, (low, high) in TERMINALS.items()
    )
    raise RequestError(f"wire {wire.name}", f"{wire.area * 1e6:.3g} mm²", f"within {ranges}")
