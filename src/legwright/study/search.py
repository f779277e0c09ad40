"""How far a quantity can be pushed before a limit is passed, in few trials.

The edge is looked for on a ladder of values, so that it does not depend on the way to it: a
search that is told where the edge was finds the same one, sooner. A limit's strain grows
steadily near its edge, so the edge is closed in on from both sides of where a straight line puts
it, by halves where that does not help. A quantity that some way out of several allows is
followed along one way; the others are asked at the edge only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from legwright.study.strains import ALIKE, Strain

Probe = Callable[[float], Strain]
"""The hardest strain at a value of the quantity that is pushed; how hard a limit is passed need not
be known exactly, see `Strain.exact`, until an edge is told."""

FINENESS = 128
"""Rungs up to the first value, and in each doubling of it."""

REST = 1e-3
"""Share of the first value that counts as next to nothing."""

ROUNDING = 1e-12
"""Share by which a value may miss its rung."""

NEAR_MISS = 1.5
"""A limit passed by less than this at rest may be kept in motion."""

BEYOND_REST = (4.0, 2.0, 0.75, 0.5, 0.25)
"""Multiples of the first speed that are tried then."""

STRIDE = 4
"""How steps grow that look for the edge from where it was thought to be."""


class Edge(NamedTuple):
    """How far a quantity goes."""

    value: float
    """0 when nothing holds, the largest of interest when all does."""
    stop: Strain
    """The strain that stops the next larger value."""
    way: int = 0
    """The way that holds there."""


class Ladder(NamedTuple):
    """Values on which an edge is looked for: even up to the first, and in each doubling of it."""

    start: float
    """The first value that is tried, on rung `FINENESS`; > 0."""
    most: float
    """The largest value of interest, on the last rung."""

    def value(self, rung: int) -> float:
        """The value of a rung; next to nothing on rung 0."""
        if rung < FINENESS:
            return min(self.start * (rung / FINENESS or REST), self.most)
        octave, step = divmod(rung - FINENESS, FINENESS)
        return min(self.start * (1.0 + step / FINENESS) * 2.0**octave, self.most)

    def rung(self, value: float) -> int:
        """The highest rung whose value is no larger, but for rounding."""
        ratio = min(value, self.most) / self.start * (1.0 + ROUNDING)
        if ratio < 1.0:
            return max(int(ratio * FINENESS), 0)
        octave = int(math.log2(ratio))
        return FINENESS * (octave + 1) + int((ratio / 2.0**octave - 1.0) * FINENESS)

    @property
    def last(self) -> int:
        """The rung of the largest value of interest."""
        below = self.rung(self.most)
        return below + (self.value(below) < self.most * (1.0 - ROUNDING))


class _Climb:
    """One way, or one demand, on a ladder."""

    def __init__(self, probe: Probe, ladder: Ladder) -> None:
        self._at = lru_cache(maxsize=64)(lambda rung: probe(ladder.value(rung)))
        self._exactly = lru_cache(maxsize=4)(lambda rung: exactly(self._at(rung)))
        self._last = ladder.last

    def at(self, rung: int) -> Strain:
        """The hardest strain on a rung, or on the last one."""
        return self._at(min(rung, self._last))

    def exactly(self, rung: int) -> Strain:
        """The same, weighed to the end."""
        return self._exactly(min(rung, self._last))

    def holds(self, rung: int) -> bool:
        """Whether no limit is passed on a rung."""
        return self.at(rung).ratio <= 1.0

    def edge(self, first: int, top: int, step: int) -> int:
        """The highest rung that holds, up to ``top``; -1 when none does.

        Args:
            first: The rung that is tried first.
            top: A rung that is not passed.
            step: From there to the next one tried; 0: a doubling up, and down to rest.
        """
        if not self.holds(first):
            low, high = first, first
            while not self.holds(low):
                if low == 0:
                    return -1
                low, high = (max(low - step, 0) if step else 0), low
                step *= STRIDE
            return self._closed(low, high)
        low = first
        while low < top:
            high = min(low + (step or FINENESS), top)
            if not self.holds(high):
                return self._closed(low, high)
            low, step = high, step * STRIDE
        return top

    def _closed(self, low: int, high: int) -> int:
        """The highest rung that holds, between one that holds and one that does not."""
        halve = False
        while high - low > 1:
            span, under, over = high - low, self.at(low).ratio, self.at(high).ratio
            guess = low + span * (1.0 - under) / (over - under)
            aside = 0.45 if high - guess > guess - low else -0.45
            guess = low + 0.5 * span if halve else guess + aside
            rung = min(max(round(guess), low + 1, low + span // 20), high - 1, high - span // 20)
            low, high = (rung, high) if self.holds(rung) else (low, rung)
            halve = high - low > 0.5 * span
        return low


def frontier(
    ways: Sequence[Probe], start: float, most: float, *, near: float | None = None
) -> Edge:
    """The largest value at which one of several ways passes no limit.

    Args:
        ways: The hardest strain of each way at a value; the likeliest way first.
        start: First value tried, > 0; doubled while it holds.
        most: Largest value of interest.
        near: Where the edge is thought to be; None or 0 where nobody knows. It changes nothing
            but the number of trials, where strains grow with the value.

    Returns:
        The edge; its stop is that of the way that is strained least beyond it.
    """
    ladder = Ladder(start, most)
    return _frontier([_Climb(way, ladder) for way in ways], ladder, ladder.rung(start), near)


def _frontier(ways: list[_Climb], ladder: Ladder, first: int, near: float | None) -> Edge:
    rung, best = -1, 0
    if near:
        rung, best = _first_edge(ways, ladder, ladder.rung(near), 1)
    if rung < 0:
        rung, best = _first_edge(ways, ladder, first, 0)
    if rung < 0:
        return Edge(0.0, _easiest([way.at(0) for way in ways]))
    for other in sorted(set(range(len(ways))) - {best}, key=lambda at: abs(at - best)):
        if rung < ladder.last and ways[other].holds(rung + 1):
            rung, best = ways[other].edge(rung + 1, ladder.last, STRIDE), other
    beyond = [ways[best]] if rung == ladder.last else ways
    stop = _easiest([way.at(rung + 1) for way in beyond])
    return Edge(ladder.value(rung) if rung else 0.0, stop, best)


def _first_edge(ways: list[_Climb], ladder: Ladder, first: int, step: int) -> tuple[int, int]:
    """The edge of the first way that holds on a rung, or below it, and the way."""
    holds = next((at for at, way in enumerate(ways) if way.holds(first)), None)
    if holds is not None:
        return ways[holds].edge(first, ladder.last, step), holds
    likely = sorted(range(len(ways)), key=lambda at: ways[at].at(first).ratio)
    best = next((at for at in likely if ways[at].holds(0)), -1)
    return (ways[best].edge(first, ladder.last, step), best) if best >= 0 else (-1, 0)


def narrowest(
    musts: Sequence[Probe], start: float, most: float, *, near: float | None = None
) -> Edge:
    """The largest value at which none of several demands passes a limit.

    Args:
        musts: The hardest strain of each demand at a value.
        start: First value tried, > 0; doubled while it holds.
        most: Largest value of interest.
        near: As for `frontier`.

    Returns:
        The edge; its stop is that of the demand that is strained most beyond it.
    """
    ladder = Ladder(start, most)
    climbs = [_Climb(must, ladder) for must in musts]
    first, step = (ladder.rung(near), 1) if near else (ladder.rung(start), 0)
    hardest, *others = sorted(climbs, key=lambda climb: -climb.at(first).ratio)
    rung = hardest.edge(first, ladder.last, step)
    for climb in others:
        if rung >= 0 and not climb.holds(rung):
            rung = climb.edge(min(first, rung), rung, step)
    stop = _hardest([climb.exactly(rung + 1) for climb in climbs])
    return Edge(ladder.value(rung) if rung > 0 else 0.0, stop)


def fastest(ways: Sequence[Probe], start: float, most: float, *, near: float | None = None) -> Edge:
    """As `frontier`, for speeds: stepping on the spot can be hotter than walking on.

    Where a limit is narrowly passed near rest, faster values are tried before 0 is the answer.

    Args:
        ways: The hardest strain of each way at a speed.
        start: First speed tried, > 0.
        most: Largest speed of interest.
        near: As for `frontier`.

    Returns:
        As `frontier`.
    """
    ladder = Ladder(start, most)
    climbs = [_Climb(way, ladder) for way in ways]
    edge = _frontier(climbs, ladder, ladder.rung(start), near)
    if edge.value > 0.0 or edge.stop.ratio >= NEAR_MISS:
        return edge
    for share in BEYOND_REST:
        rung = ladder.rung(share * start)
        if share * start <= most and any(climb.holds(rung) for climb in climbs):
            return _frontier(climbs, ladder, rung, None)
    return edge


def holding(ways: Sequence[Probe], value: float) -> bool:
    """Whether one of several ways passes no limit at a value."""
    return any(way(value).ratio <= 1.0 for way in ways)


def least(ways: Sequence[Probe], value: float) -> Strain:
    """The strain of the way that is strained least at a value."""
    return _easiest([way(value) for way in ways])


def exactly(strain: Strain) -> Strain:
    """A strain weighed to the end."""
    return strain if strain.exact is None else strain.exact()


def _easiest(strains: Sequence[Strain]) -> Strain:
    """The least of several strains; only those are weighed to the end that may be it."""
    best: Strain | None = None
    for strain in sorted(strains, key=_ratio):
        if best is not None and strain.ratio >= best.ratio:
            break
        found = exactly(strain)
        if best is None or found.ratio < best.ratio:
            best = found
    if best is None:
        raise ValueError("no strain to choose from")
    return best


def _hardest(strains: Sequence[Strain]) -> Strain:
    """The first of those that are strained most: what is mirrored is strained alike."""
    most = max(strains, key=_ratio)
    alike = (one for one in strains if math.isclose(one.ratio, most.ratio, rel_tol=ALIKE))
    return next(alike, most)


def _ratio(strain: Strain) -> float:
    return strain.ratio
