"""How far a quantity can be pushed before a limit is passed, in few trials.

A limit's strain grows steadily near its edge, so the edge is closed in on from both sides of
where a straight line puts it, by halves where that does not help. A quantity that some way out
of several allows is followed along one way; the others are asked at the edge only.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from legwright.study.strains import Strain

Probe = Callable[[float], Strain]
"""The hardest strain at a value of the quantity that is pushed."""

FINENESS = 128.0
"""The edge is known to this part of the bracket that it is first found in."""

REST = 1e-3
"""Share of the first value that counts as next to nothing."""

NEAR_MISS = 1.5
"""A limit passed by less than this at rest may be kept in motion."""

BEYOND_REST = (4.0, 2.0, 0.75, 0.5, 0.25)
"""Multiples of the first speed that are tried then."""


class Edge(NamedTuple):
    """How far a quantity goes."""

    value: float
    """0 when nothing holds, the largest of interest when all does."""
    stop: Strain
    """The strain that stops the next larger value tried."""
    way: int = 0
    """The way that holds there."""


def frontier(ways: Sequence[Probe], start: float, most: float) -> Edge:
    """The largest value at which one of several ways passes no limit.

    Args:
        ways: The hardest strain of each way at a value; the likeliest way first.
        start: First value tried, > 0; doubled while it holds.
        most: Largest value of interest.

    Returns:
        The edge; its stop is that of the way that is strained least beyond it.
    """
    ways = [lru_cache(maxsize=64)(way) for way in ways]
    first = holding(ways, start)
    if first is None:
        likely = sorted(range(len(ways)), key=lambda at: ways[at](start).ratio)
        best = next((at for at in likely if ways[at](REST * start).ratio <= 1.0), -1)
        if best < 0:
            return Edge(0.0, least(ways, REST * start))
        way, rest = ways[best], ways[best](REST * start)
        low, high, stop = _closed(way, 0.0, rest, start, way(start), start / FINENESS)
    else:
        best, found = first
        low, high, stop = _doubled(ways[best], start, found, most)
    left = sorted(set(range(len(ways))) - {best}, key=lambda at: abs(at - best))
    while left and stop.ratio > 1.0:
        at = left.pop(0)
        found = ways[at](high)
        if found.ratio <= 1.0:
            best = at
            low, high, stop = _grown(ways[at], high, found, most, (high - low) or high / FINENESS)
    return Edge(low, least(ways, high) if stop.ratio > 1.0 else stop, best)


def narrowest(musts: Sequence[Probe], start: float, most: float) -> Edge:
    """The largest value at which none of several demands passes a limit.

    Args:
        musts: The hardest strain of each demand at a value.
        start: First value tried, > 0; doubled while it holds.
        most: Largest value of interest.

    Returns:
        The edge.
    """
    found = [must(start) for must in musts]
    order = sorted(range(len(musts)), key=lambda at: -found[at].ratio)
    low, stop = most, found[order[0]]
    for place, at in enumerate(order):
        here = found[at] if place == 0 else musts[at](low)
        if place > 0 and here.ratio <= 1.0:
            continue
        if found[at].ratio <= 1.0 and place == 0:
            low, _, stop = _doubled(musts[at], start, found[at], most)
            continue
        if found[at].ratio <= 1.0:
            low, _, stop = _closed(musts[at], start, found[at], low, here, (low - start) / FINENESS)
            continue
        rest = musts[at](REST * start)
        if rest.ratio > 1.0:
            return Edge(0.0, rest)
        high, beyond = (start, found[at]) if place == 0 else (low, here)
        low, _, stop = _closed(musts[at], 0.0, rest, high, beyond, high / FINENESS)
    return Edge(low, stop)


def fastest(ways: Sequence[Probe], start: float, most: float) -> Edge:
    """As `frontier`, for speeds: stepping on the spot can be hotter than walking on.

    Where a limit is narrowly passed near rest, faster values are tried before 0 is the answer.

    Args:
        ways: The hardest strain of each way at a speed.
        start: First speed tried, > 0.
        most: Largest speed of interest.

    Returns:
        As `frontier`.
    """
    edge = frontier(ways, start, most)
    if edge.value > 0.0 or edge.stop.ratio >= NEAR_MISS:
        return edge
    for share in BEYOND_REST:
        if share * start <= most and holding(ways, share * start) is not None:
            return frontier(ways, share * start, most)
    return edge


def least(ways: Sequence[Probe], value: float) -> Strain:
    """The strain of the way that is strained least at a value."""
    return min((way(value) for way in ways), key=lambda strain: strain.ratio)


def holding(ways: Sequence[Probe], value: float) -> tuple[int, Strain] | None:
    """The first way that holds at a value, and its strain there."""
    for at, way in enumerate(ways):
        strain = way(value)
        if strain.ratio <= 1.0:
            return at, strain
    return None


def _doubled(probe: Probe, low: float, found: Strain, most: float) -> tuple[float, float, Strain]:
    """From a value that holds: doubled until it fails, then closed in on."""
    while low < most:
        high = min(2.0 * low, most)
        stop = probe(high)
        if stop.ratio > 1.0:
            return _closed(probe, low, found, high, stop, (high - low) / FINENESS)
        low, found = high, stop
    return most, most, found


def _grown(
    probe: Probe, low: float, found: Strain, most: float, width: float
) -> tuple[float, float, Strain]:
    """From a value that holds and is thought to be near the edge: in growing steps."""
    step = 4.0 * width
    while low < most:
        high = min(low + step, most)
        stop = probe(high)
        if stop.ratio > 1.0:
            return _closed(probe, low, found, high, stop, width)
        low, found, step = high, stop, 4.0 * step
    return most, most, found


def _closed(
    probe: Probe, low: float, under: Strain, high: float, stop: Strain, width: float
) -> tuple[float, float, Strain]:
    """The bracket around the edge, no wider than `width`, and the strain at its upper end."""
    halve = False
    while high - low > width:
        span = high - low
        guess = low + span * (1.0 - under.ratio) / (stop.ratio - under.ratio)
        aside = 0.45 * width if high - guess > guess - low else -0.45 * width
        value = low + 0.5 * span if halve else min(max(guess + aside, low + 0.05 * span),
                                                   high - 0.05 * span)  # fmt: skip
        found = probe(value)
        if found.ratio <= 1.0:
            low, under = value, found
        else:
            high, stop = value, found
        halve = high - low > 0.5 * span
    return low, high, stop
