"""The voltage ladder: voltage along one way through the circuit, on the schematic's columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, isfinite, log10

from legwright.electrics.readings import Readings
from legwright.views import tokens
from legwright.views.circuit_signs import volts
from legwright.views.ink import Ink, Point
from legwright.views.lettering import Face
from legwright.views.numbers import plain, with_unit

Scale = Callable[[float], float]
"""Voltage [V] -> height on the sheet [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One place on the way, and the node whose voltage reigns there."""

    x: float
    """[mm]"""
    node: str
    label: bool = False
    """Whether the voltage is written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """Where the ladder lies [mm]."""

    left: float
    right: float
    top: float
    bottom: float


def ladder(
    ink: Ink,
    plot: Plot,
    rungs: Sequence[Rung],
    readings: Readings,
    *,
    limit: float | None,
    name: str,
) -> None:
    """Draws the ladder.

    Args:
        ink: Where to.
        plot: The place.
        rungs: From the battery outward, x rising; the first is the battery's terminals.
        readings: Voltages.
        limit: Least voltage that the last consumer works at [V]; None where not known.
        name: What the way leads to.
    """
    values = [readings.voltage[rung.node] for rung in rungs]
    low, high, step = _range([*values, readings.open_voltage], limit)
    y_of = _scale(plot, low, high)
    _axis(ink, plot, y_of, low, high, step)
    y_limit = plot.bottom if limit is None else min(y_of(limit), plot.bottom)
    if limit is not None and limit > low:
        _forbidden(ink, plot, y_limit, limit)
    first = rungs[0]
    points: list[Point] = [(first.x, y_of(readings.open_voltage))]
    points += [(rung.x, y_of(value)) for rung, value in zip(rungs, values, strict=True)]
    ink.path(points, weight=tokens.THICK, round_ends=True)
    if limit is not None:
        for piece in _below(points, y_of(limit)):
            ink.path(piece, stroke="red", weight=tokens.RED_TRACE, round_ends=True)
    _numbers(ink, rungs, values, y_of, readings, limit)
    end = points[-1]
    bad = limit is not None and values[-1] < limit
    ink.text_where_free(
        [(end[0] + 2.0, end[1] + 0.9, "start"), (end[0] + 2.0, end[1] - 2.0, "start")],
        name,
        colour="red" if bad else "ink",
        knock=True,
    )


def _range(values: Sequence[float], limit: float | None) -> tuple[float, float, float]:
    known = [value for value in values if isfinite(value)]
    known += [] if limit is None or not isfinite(limit) else [limit]
    least, most = min(known), max(known)
    span = max(most - least, 0.02 * max(abs(most), 1e-6), 1e-3)
    raw = span / 3.0
    power = 10.0 ** floor(log10(raw))
    step = next(k * power for k in (1.0, 2.0, 5.0, 10.0) if k * power >= raw)
    low = floor((least - 0.25 * span) / step) * step
    return max(low, 0.0), ceil((most + 0.02 * span) / step) * step, step


def _scale(plot: Plot, low: float, high: float) -> Scale:
    per_volt = (plot.bottom - plot.top) / (high - low)
    return lambda value: plot.bottom - (min(max(value, low), high) - low) * per_volt


def _axis(ink: Ink, plot: Plot, y_of: Scale, low: float, high: float, step: float) -> None:
    ink.line(plot.left, plot.top - 2.0, plot.left, plot.bottom)
    count = round((high - low) / step)
    digits = max(0, -floor(log10(step)))
    for k in range(count + 1):
        y = y_of(low + k * step)
        ink.line(plot.left, y, plot.left + 1.5, y)
        words = "V" if k == count - 1 and count > 1 else plain(low + k * step, digits)
        ink.text(plot.left - 1.0, y + 0.9, words, face=Face.LETTER, anchor="end")


def _forbidden(ink: Ink, plot: Plot, y: float, limit: float) -> None:
    if plot.bottom - y > 0.8:
        area = [
            (plot.left, y),
            (plot.right, y),
            (plot.right, plot.bottom),
            (plot.left, plot.bottom),
        ]
        ink.hatch(area)
    ink.line(plot.left, y, plot.right, y, weight=tokens.THICK)
    words = f"resets under {with_unit(volts(limit), 'V')}"
    where = y + 3.4 if plot.bottom - y > 4.5 else y - 1.0
    ink.text_where_free([(plot.left + 2.0, where, "start")], words, knock=True)


def _below(points: Sequence[Point], y: float) -> list[list[Point]]:
    """The pieces of a polyline under a level (y runs down)."""
    pieces: list[list[Point]] = []
    inside = False
    for a, b in pairwise(points):
        if (a[1] > y) != (b[1] > y) and b[1] != a[1]:
            part = (y - a[1]) / (b[1] - a[1])
            cross = (a[0] + part * (b[0] - a[0]), y)
            if a[1] > y:
                pieces[-1].append(cross) if inside else pieces.append([a, cross])
                inside = False
            else:
                pieces.append([cross, b])
                inside = True
        elif a[1] > y:
            pieces[-1].append(b) if inside else pieces.append([a, b])
            inside = True
        else:
            inside = False
    return pieces


def _numbers(
    ink: Ink,
    rungs: Sequence[Rung],
    values: Sequence[float],
    y_of: Scale,
    readings: Readings,
    limit: float | None,
) -> None:
    top = y_of(readings.open_voltage)
    ink.text_where_free(
        [(rungs[0].x + 1.2, top - 0.9, "start"), (rungs[0].x - 1.0, top - 0.9, "end")],
        volts(readings.open_voltage),
    )
    for rung, value in zip(rungs, values, strict=True):
        if not rung.label:
            continue
        y = y_of(value)
        red = limit is not None and value < limit
        places = [
            (rung.x, y + 3.2, "middle"),
            (rung.x, y - 1.2, "middle"),
            (rung.x + 1.0, y + 4.4, "start"),
            (rung.x, y + 6.0, "middle"),
        ]
        ink.text_where_free(places, volts(value), colour="red" if red else "ink", knock=True)
        if red:
            ink.circle(rung.x, y, 0.7, stroke="none", fill="red")
