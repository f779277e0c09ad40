"""How long a fuse carries a current: the band that its standard allows.

Between a standard's points the times run straight in a log-log plot; beyond the last they
fall as 1/I², the constant I²t of melting without loss.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError, did_you_mean
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseCurve:
    """Time-current band of a kind of fuse, over current as a multiple of its rating."""

    kind: str
    earliest: tuple[tuple[float, float], ...]
    """(multiple, time [s]): no fuse of the kind blows before."""
    latest: tuple[tuple[float, float], ...]
    """(multiple, time [s]): all have blown by then."""
    ratings: tuple[float, ...]
    """Sold [A]."""
    source: str

    def __post_init__(self) -> None:
        for band in (self.earliest, self.latest):
            multiples = [multiple for multiple, _ in band]
            times = [time for _, time in band]
            falling = times == sorted(times, reverse=True)
            if len(band) < 2 or multiples != sorted(set(multiples)) or not falling:
                raise RequestError(f"curve of {self.kind}", band, "rising currents, falling times")

    @property
    def holds(self) -> float:
        """Multiple of the rating up to which none blows."""
        return self.earliest[0][0]

    @property
    def blows(self) -> float:
        """Multiple of the rating from which all blow in the end."""
        return self.latest[0][0]


FUSE_CURVES: dict[str, FuseCurve] = {
    curve.kind: curve
    for curve in (
        FuseCurve(
            kind="normal",
            earliest=(
                (1.1, 360e3),
                (1.35, 0.75),
                (1.6, 0.25),
                (2.0, 0.15),
                (3.5, 0.04),
                (6.0, 0.02),
            ),
            latest=((1.35, 600.0), (1.6, 50.0), (2.0, 5.0), (3.5, 0.5), (6.0, 0.1)),
            ratings=(1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0),
            source="blade fuses after ISO 8820-3 (from memory)",
        ),
        FuseCurve(
            kind="fast",
            earliest=((1.5, 3600.0), (2.1, 0.1), (2.75, 0.01), (4.0, 0.003), (10.0, 0.0005)),
            latest=((2.1, 1800.0), (2.75, 3.0), (4.0, 0.3), (10.0, 0.02)),
            ratings=(0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0),
            source="quick-acting miniature fuses after IEC 60127-2 (from memory)",
        ),
        FuseCurve(
            kind="slow",
            earliest=((1.5, 3600.0), (2.1, 1.0), (2.75, 0.2), (4.0, 0.04), (10.0, 0.01)),
            latest=((2.1, 120.0), (2.75, 10.0), (4.0, 3.0), (10.0, 0.3)),
            ratings=(0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0),
            source="time-lag miniature fuses after IEC 60127-2 (from memory)",
        ),
    )
}
"""By kind. The earliest times at 2.1 of fast and slow fuses are not in the standard: chosen
on the early side."""


def fuse_curve(kind: str) -> FuseCurve:
    """The time-current band of a kind of fuse.

    Raises:
        RequestError: for an unknown kind.
    """
    if kind not in FUSE_CURVES:
        raise RequestError("fuse kind", kind, f"known. {did_you_mean(kind, FUSE_CURVES)}")
    return FUSE_CURVES[kind]


def earliest_blow(curve: FuseCurve, rating: float, current: ArrayLike) -> Floats:
    """Time before which the fuse surely holds a current [s]; inf up to its holding current."""
    return _time(curve.earliest, rating, current)


def latest_blow(curve: FuseCurve, rating: float, current: ArrayLike) -> Floats:
    """Time by which the fuse has surely blown [s]; inf below its conventional current."""
    return _time(curve.latest, rating, current)


def melting_joule(curve: FuseCurve, rating: float) -> float:
    """I²t that the fuse surely survives as a short pulse [A²·s]: that of the last point."""
    multiple, time = curve.earliest[-1]
    return (multiple * rating) ** 2 * time


def _time(band: tuple[tuple[float, float], ...], rating: float, current: ArrayLike) -> Floats:
    if not (0.0 < rating < inf):
        raise RequestError("fuse rating", rating, "finite and above 0")
    multiple = np.abs(np.asarray(current, dtype=np.float64)) / rating
    currents, times = np.array(band).T
    with np.errstate(divide="ignore"):
        level = np.log(multiple)
    inner = np.exp(np.interp(level, np.log(currents), np.log(times)))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        beyond = times[-1] * (currents[-1] / multiple) ** 2
    time = np.where(multiple > currents[-1], beyond, inner)
    return np.where(multiple < currents[0], np.inf, time)
