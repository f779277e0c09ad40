"""Fault cases: stalled servos, and the inrush when the switch closes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite, log

import numpy as np

from legwright.errors import RequestError
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stalls:
    """Load currents of fault cases, ready for `flow` as samples."""

    names: tuple[str, ...]
    """(K,): what stalls in each case."""
    current: Floats
    """(K, N): drawn at each node [A]."""


def stalls(
    nodes: Sequence[str], running: Floats, stalled: Floats, legs: Mapping[str, Sequence[str]]
) -> Stalls:
    """Fault cases: each servo alone, each leg, all servos.

    Args:
        nodes: Names of the N nodes, in the order of the currents.
        running: Current of each node while nothing is wrong, (N,) [A].
        stalled: Current of each node with its servo stalled, (N,) [A]; at nodes without a
            servo not looked at.
        legs: Servo nodes of each leg.

    Returns:
        Stalls: one case per servo, one per leg, and ``all servos`` last.

    Raises:
        RequestError: for a servo that is no node.
    """
    index = {name: at for at, name in enumerate(nodes)}
    unknown = [servo for members in legs.values() for servo in members if servo not in index]
    if unknown:
        raise RequestError("servo", unknown[0], "a node of the network")
    servos = [servo for members in legs.values() for servo in members]
    cases: list[tuple[str, Sequence[str]]] = [(servo, (servo,)) for servo in servos]
    cases += list(legs.items())
    cases.append(("all servos", servos))
    current = np.tile(np.asarray(running, dtype=np.float64), (len(cases), 1))
    for row, (_, members) in enumerate(cases):
        at = [index[servo] for servo in members]
        current[row, at] = np.asarray(stalled, dtype=np.float64)[at]
    return Stalls(names=tuple(name for name, _ in cases), current=current)


@dataclass(frozen=True, slots=True, kw_only=True)
class Inrush:
    """What happens when a supply is switched on to empty capacitors."""

    peak: float
    """Current at the first instant [A]; inf without resistance."""
    time_constant: float
    """[s]"""
    joule: float
    """I²t through switch and fuse [A²·s]."""
    heat: float
    """Energy lost in the resistance while it charges, half of what is given [J]."""
    bridged_peak: float
    """Current when the pre-charge path is bridged after the wait [A]; 0 without pre-charge."""
    wait: float
    """Pre-charge time [s]; 0 without."""


def inrush(
    voltage: float,
    resistance: float,
    capacitance: float,
    *,
    precharge: float | None = None,
    share: float = 0.95,
) -> Inrush:
    """Inrush into capacitors through the supply's and the wiring's resistance.

    Args:
        voltage: Of the supply [V].
        resistance: Source, fuse, switch, wire, and the capacitors' own, together [Ω].
        capacitance: Of all capacitors behind the switch [F].
        precharge: Resistance of the pre-charge path [Ω]; None where there is none.
        share: Of the voltage that must be reached before pre-charge is bridged.

    Returns:
        Inrush. Inductance, which would lower the peak, is left out.

    Raises:
        RequestError: for values that cannot be.

    Source: charging of a capacitor through a resistance, textbook: i = U/R e^(-t/RC),
    ∫i² dt = U² C / (2 R), loss C U² / 2 whatever the resistance.
    """
    for what, value in (("voltage", voltage), ("capacitance", capacitance)):
        if not (isfinite(value) and value > 0.0):
            raise RequestError(what, value, "finite and above 0")
    if not (isfinite(resistance) and resistance >= 0.0):
        raise RequestError("resistance", resistance, "finite and at least 0")
    if not 0.0 < share < 1.0:
        raise RequestError("share", share, "between 0 and 1")
    total = resistance + (precharge or 0.0)
    bridging = precharge is not None and precharge > 0.0
    gap = (1.0 - share) * voltage if bridging else 0.0
    first = inf if total == 0.0 else voltage / total
    second = 0.0 if gap == 0.0 else (gap / resistance if resistance > 0.0 else inf)
    return Inrush(
        peak=first,
        time_constant=total * capacitance,
        joule=_joule(voltage, gap, total, capacitance) + _joule(gap, 0.0, resistance, capacitance),
        heat=0.5 * capacitance * voltage * voltage,
        bridged_peak=second,
        wait=total * capacitance * log(1.0 / (1.0 - share)) if bridging else 0.0,
    )


def _joule(start: float, end: float, resistance: float, capacitance: float) -> float:
    """I²t while the voltage across a resistance falls from start to end."""
    if start == end:
        return 0.0
    if resistance == 0.0:
        return inf
    return capacitance * (start * start - end * end) / (2.0 * resistance)
