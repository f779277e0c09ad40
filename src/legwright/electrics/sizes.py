"""Standard sizes: which wires, fuses and track widths one can buy or draw."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import ceil

from legwright.electrics.ampacity import Surroundings, continuous_current
from legwright.electrics.copper import Wire, gauge_wire

GAUGES = (30, 28, 26, 24, 22, 20, 18, 16, 14, 12, 10, 8)
"""American wire gauges that are sold everywhere, thinnest first; common practice."""

WIDTH_STEP = 0.5e-3
"""Track widths are drawn in steps of this [m]."""


@lru_cache(maxsize=1)
def standard_wires() -> tuple[Wire, ...]:
    """Wires of the standard gauges, thinnest first."""
    return tuple(gauge_wire(number) for number in GAUGES)


def thinnest(passes: Callable[[Wire], bool]) -> Wire | None:
    """The thinnest standard wire that passes; None where none does."""
    return next((wire for wire in standard_wires() if passes(wire)), None)


def thinnest_for(
    current: float, limit: float, around: Surroundings, *, grouping: float
) -> Wire | None:
    """The thinnest standard wire that carries a current for ever below a temperature.

    Args:
        current: RMS [A].
        limit: Of the copper [K].
        around: What it lies in.
        grouping: Share of a lone wire's current allowed in the bundle.
    """
    return thinnest(
        lambda wire: float(continuous_current(wire, limit, around, grouping=grouping)) >= current
    )


def rounded_width(width: float) -> float:
    """A track width rounded up to `WIDTH_STEP` [m]."""
    return ceil(width / WIDTH_STEP - 1e-9) * WIDTH_STEP
