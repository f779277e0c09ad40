"""Run time: a battery's curve integrated down to cut-off under a repeated load."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from legwright.electrics.battery import (
    REFERENCE,
    Pack,
    current_for_power,
    internal_resistance,
    open_voltage,
)
from legwright.errors import RequestError
from legwright.robot.tree import Floats

_GRID = 1000
"""Steps of charge between full and empty: run times are good to 2e-7."""

STIFF = 3e-3
"""Share of the largest power that a source can give, below which its resistance hardly matters."""
_BLOCK = 64
"""States of charge whose currents are reckoned at once."""


class End(Enum):
    """Why a discharge ended."""

    CUTOFF = "cut-off voltage reached"
    EMPTY = "charge used up"
    TOO_MUCH = "more power asked than the pack can give"
    NO_LOAD = "nothing draws"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Discharge:
    """A discharge from some state of charge down to its end."""

    time: float
    """[s]; inf without a load."""
    energy: float
    """Given at the terminals [J]."""
    charge: float
    """[C]"""
    left: float
    """State of charge at the end."""
    lost: float
    """Heat in the cells [J]."""
    end: End


def discharge(
    pack: Pack,
    power: ArrayLike,
    *,
    resistance: float = 0.0,
    start: float = 1.0,
    reserve: float = 0.0,
    temperature: float = REFERENCE,
) -> Discharge:
    """Run a pack down under a load that repeats fast against the run time.

    Args:
        pack: The pack.
        power: Taken behind the resistance: a constant, or samples evenly spaced over a cycle
            that repeats, (), (T,) [W]. The pack is cut off as soon as the heaviest sample
            pulls its terminals below cut-off.
        resistance: Between the pack's terminals and the load [Ω].
        start: State of charge at the beginning.
        reserve: State of charge that is not touched.
        temperature: Of the cells [K].

    Returns:
        Discharge. Rate effects beyond the internal resistance, and recovery, are left out.

    Raises:
        RequestError: for states of charge out of order or a power that is negative.

    Source: dt = -C ds / I(s), the open-circuit curve and internal resistance at each s.
    """
    if not 0.0 <= reserve < start <= 1.0:
        raise RequestError("reserve and start", (reserve, start), "0 <= reserve < start <= 1")
    watts = np.atleast_1d(np.asarray(power, dtype=np.float64))
    if watts.ndim != 1 or not np.isfinite(watts).all() or (watts < 0.0).any():
        raise RequestError("power", power, "finite, at least 0, one number or samples")
    if not watts.any():
        return Discharge(time=np.inf, energy=0.0, charge=0.0, left=start, lost=0.0, end=End.NO_LOAD)
    soc = np.linspace(start, reserve, _GRID + 1)
    return _down(pack, watts, soc, resistance, temperature)


def _down(
    pack: Pack, watts: Floats, soc: Floats, resistance: float, temperature: float
) -> Discharge:
    volts = open_voltage(pack, soc)
    ohms = internal_resistance(pack, soc, temperature)
    heaviest = current_for_power(volts, ohms + resistance, watts.max())
    terminal = volts - ohms * heaviest
    given_up = np.isnan(heaviest)
    over = given_up | (terminal < pack.cutoff)
    last = int(np.argmax(over)) if over.any() else soc.size
    if last == 0:
        end = End.TOO_MUCH if given_up[0] else End.CUTOFF
        return Discharge(time=0.0, energy=0.0, charge=0.0, left=float(soc[0]), lost=0.0, end=end)
    stop = _crossing(soc, terminal, pack.cutoff, last)
    path = np.append(soc[:last], stop) if last < soc.size else soc
    volts, ohms = np.interp(-path, -soc, volts), np.interp(-path, -soc, ohms)
    mean, square = _cycle_means(volts, ohms + resistance, watts)
    seconds = pack.capacity * -np.diff(path) * 0.5 * (1.0 / mean[1:] + 1.0 / mean[:-1])
    heat, given = ohms * square, volts * mean - ohms * square
    end = End.EMPTY if last == soc.size else (End.TOO_MUCH if given_up[last] else End.CUTOFF)
    return Discharge(
        time=float(seconds.sum()),
        energy=float((seconds * 0.5 * (given[1:] + given[:-1])).sum()),
        charge=float(pack.capacity * (path[0] - path[-1])),
        left=float(path[-1]),
        lost=float((seconds * 0.5 * (heat[1:] + heat[:-1])).sum()),
        end=end,
    )


def _crossing(soc: Floats, terminal: Floats, cutoff: float, last: int) -> float:
    """Charge at which the terminals reach cut-off, between two steps."""
    if last == soc.size or np.isnan(terminal[last]):
        return float(soc[last - 1])
    above, below = terminal[last - 1] - cutoff, cutoff - terminal[last]
    return float(soc[last - 1] + (soc[last] - soc[last - 1]) * above / (above + below))


def _cycle_means(volts: Floats, ohms: Floats, watts: Floats) -> tuple[Floats, Floats]:
    """Mean of the currents over a cycle, and of their squares, at each of S states of charge.

    Rounding beside the nose is forgiven. Some states at a time: they stay in the cache. Where
    the resistance matters, the mean of the roots in I = (U - √(U² - 4RP)) / 2R tells both:
    R·I² = U·I - P. Elsewhere that loses its digits.
    """
    most = volts * volts / (4.0 * ohms + 1e-300)
    if (watts.mean() < STIFF * most).any():
        return _cycle_means_stiff(volts, ohms, watts, most)
    root, power = np.empty((2, volts.size))
    for begin in range(0, volts.size, _BLOCK):
        rows = slice(begin, begin + _BLOCK)
        left = most[rows, None] - watts
        np.maximum(left, 0.0, out=left)
        power[rows] = most[rows] - left.mean(axis=1)
        root[rows] = np.sqrt(left, out=left).mean(axis=1)
    mean = (volts - np.sqrt(4.0 * ohms) * root) / (2.0 * ohms)
    return mean, (volts * mean - power) / ohms


def _cycle_means_stiff(
    volts: Floats, ohms: Floats, watts: Floats, most: Floats
) -> tuple[Floats, Floats]:
    """The same from the currents themselves, `most` being the largest power, (S,) [W]."""
    mean, square = np.empty((2, volts.size))
    for begin in range(0, volts.size, _BLOCK):
        rows = slice(begin, begin + _BLOCK)
        power = np.minimum(watts, most[rows, None])
        i = current_for_power(volts[rows, None], ohms[rows, None], power)
        mean[rows] = i.mean(axis=1)
        square[rows] = np.einsum("st,st->s", i, i) / watts.size
    return mean, square
