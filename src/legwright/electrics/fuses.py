"""Fuses: large enough for the load, small enough for the wire."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from legwright.electrics.ampacity import Surroundings, continuous_current, steady_temperature
from legwright.electrics.copper import Wire
from legwright.electrics.fuse_curves import (
    FuseCurve,
    earliest_blow,
    fuse_curve,
    latest_blow,
    melting_joule,
)
from legwright.electrics.insulation import Insulation
from legwright.electrics.overload import heating_time
from legwright.errors import RequestError
from legwright.robot.tree import Floats, read_only

LOADING = 0.75
"""Share of a fuse's rating that is loaded for ever at 25 °C; a rule of the trade without a
published source (others take 0.5 or 0.8): a choice, not a law."""

PULSES = 0.3
"""Share of a fuse's melting I²t used by each of many inrush pulses; common practice, no
published source."""

_STEPS = 60


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Protection:
    """Whether a fuse blows before a wire suffers."""

    ok: bool
    rating_fits: bool
    """The rating is at most the wire's continuous current."""
    overload_fits: bool
    """The current from which the fuse surely blows is at most 1.45 times that."""
    fault_fits: bool
    """At each fault current the fuse blows before the insulation's short-time temperature."""
    ampacity: float
    """Continuous current of the wire [A]."""
    current: Floats
    """Fault currents looked at [A]."""
    blow: Floats
    """Latest blow at each [s]."""
    bear: Floats
    """Time the insulation bears each [s]."""
    margin: float
    """Smallest ratio of bearing to blowing time."""

    @property
    def why(self) -> str:
        """One clause on the first thing that is wrong; empty where all is well."""
        if not self.rating_fits:
            return f"the fuse is larger than the wire's {self.ampacity:.3g} A"
        if not self.overload_fits:
            return f"an overload of {1.45 * self.ampacity:.3g} A may last for ever"
        if not self.fault_fits:
            worst = int(np.argmin(self.bear / self.blow))
            return (
                f"at {self.current[worst]:.3g} A the wire bears {self.bear[worst]:.3g} s, "
                f"the fuse may take {self.blow[worst]:.3g} s"
            )
        return ""


@lru_cache(maxsize=64)
def protects(
    curve: FuseCurve,
    rating: float,
    wire: Wire,
    cover: Insulation,
    around: Surroundings,
    *,
    fault: float,
    grouping: float = 1.0,
) -> Protection:
    """Whether a fuse protects a wire, from overload to dead short.

    Args:
        curve: Kind of fuse.
        rating: [A]
        wire: Behind the fuse.
        cover: Its insulation.
        around: What the wire lies in.
        fault: Largest current that can flow, source and loop resistance together [A].
        grouping: Share of a lone wire's current allowed in the bundle.

    Returns:
        Protection. Before the fault the wire is at the temperature that the rated current
        settles it at.

    Source: IEC 60364-4-43: I_n <= I_z, I_2 <= 1.45 I_z (433.1), I²t within k²S² (434.5.2);
    the latter by a heat balance with loss (see `overload.heating_time`).
    """
    if not fault > 0.0:
        raise RequestError("fault current", fault, "above 0")
    ampacity = float(continuous_current(wire, cover.continuous, around, grouping=grouping))
    warm = float(steady_temperature(wire, rating, around, grouping=grouping))
    start = min(max(warm, around.ambient), cover.continuous)
    least = curve.blows * rating
    current = np.geomspace(least, max(fault, least), _STEPS)
    blow = latest_blow(curve, rating, current)
    end = max(cover.short_time, start + 1.0)
    bear = heating_time(wire, current, start, end, around, grouping=grouping)
    reached = fault >= least
    fits = bool((blow <= bear).all()) if reached else _settles(wire, fault, cover, around, grouping)
    rating_fits = rating <= ampacity * (1.0 + 1e-9)
    overload_fits = least <= 1.45 * ampacity * (1.0 + 1e-9)
    return Protection(
        ok=rating_fits and overload_fits and fits,
        rating_fits=rating_fits,
        overload_fits=overload_fits,
        fault_fits=fits,
        ampacity=ampacity,
        current=read_only(current),
        blow=read_only(blow),
        bear=read_only(bear),
        margin=float(np.min(bear / blow)),
    )


def _settles(
    wire: Wire, fault: float, cover: Insulation, around: Surroundings, grouping: float
) -> bool:
    """A fault too weak to blow the fuse: whether the wire bears it for ever."""
    return bool(steady_temperature(wire, fault, around, grouping=grouping) <= cover.continuous)


def needed_rating(continuous: float, *, loading: float = LOADING) -> float:
    """Least fuse rating for a continuous current [A].

    Args:
        continuous: RMS current of the load [A].
        loading: Share of the rating that may be loaded for ever, above 0.
    """
    if not 0.0 < loading <= 1.0:
        raise RequestError("loading", loading, "above 0 and at most 1")
    return continuous / loading


def carries(curve: FuseCurve, rating: float, current: ArrayLike, step: float) -> bool:
    """Whether a fuse holds a cycle of currents that repeats.

    Every stretch of the cycle, of any length and anywhere, must be shorter than the earliest
    blow at its RMS current.

    Args:
        curve: Kind of fuse.
        rating: [A]
        current: (T,), evenly spaced over the cycle [A].
        step: Time between samples [s].
    """
    i = np.asarray(current, dtype=np.float64)
    if i.ndim != 1 or i.size == 0 or not step > 0.0:
        raise RequestError("current samples", i.shape, "(T,) with a time step above 0")
    count = i.size
    total = np.concatenate([[0.0], np.cumsum(np.tile(i * i, 2))])
    stretch = np.arange(1, count + 1)
    square = total[stretch[:, None] + np.arange(count)] - total[:count]
    rms = np.sqrt(np.maximum(square.max(axis=1) / stretch, 0.0))
    time = np.where(stretch == count, np.inf, stretch * step)
    return not (earliest_blow(curve, rating, rms) < time).any()


def survives_inrush(
    curve: FuseCurve, rating: float, joule: float, *, share: float = PULSES
) -> bool:
    """Whether a fuse bears an inrush again and again.

    Args:
        curve: Kind of fuse.
        rating: [A]
        joule: I²t of one inrush [A²·s].
        share: Of the melting I²t that each pulse may use.
    """
    return joule <= share * melting_joule(curve, rating)


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseChoice:
    """A fuse rating and what drove it."""

    rating: float
    """[A]"""
    driver: str
    """``continuous current``, ``peaks of the cycle`` or ``inrush``."""


def choose_fuse(
    kind: str,
    current: ArrayLike,
    step: float,
    *,
    inrush_joule: float = 0.0,
    loading: float = LOADING,
    share: float = PULSES,
) -> FuseChoice:
    """The smallest standard fuse that carries a load.

    Args:
        kind: ``fast``, ``normal`` or ``slow``.
        current: Of the load, (T,), evenly spaced over a cycle that repeats [A].
        step: Time between samples [s].
        inrush_joule: I²t at switch-on [A²·s].
        loading: See `needed_rating`.
        share: See `survives_inrush`.

    Returns:
        FuseChoice; whether it also protects the wire is asked of `protects`.

    Raises:
        RequestError: where no rating of the kind suffices.
    """
    curve = fuse_curve(kind)
    i = np.atleast_1d(np.asarray(current, dtype=np.float64))
    needed = needed_rating(float(np.sqrt(np.mean(i * i))), loading=loading)
    driver = "continuous current"
    for rating in curve.ratings:
        if rating < needed * (1.0 - 1e-9):
            continue
        if not carries(curve, rating, i, step):
            driver = "peaks of the cycle"
            continue
        if not survives_inrush(curve, rating, inrush_joule, share=share):
            driver = "inrush"
            continue
        return FuseChoice(rating=rating, driver=driver)
    allowed = f"within what a {kind} fuse of up to {curve.ratings[-1]:g} A carries"
    raise RequestError("load of the fuse", f"{needed:.3g} A ({driver})", allowed)
