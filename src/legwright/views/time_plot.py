"""Plots over time: one panel with its axis, curves thinned to what paper can show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from legwright.robot.tree import Floats
from legwright.views import tokens
from legwright.views.axes import Scale, beyond, left_axis, nice_span, trace
from legwright.views.ink import Ink
from legwright.views.lettering import Face

FINEST = 3.0
"""Bins of a thinned curve per millimetre."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Curve:
    """One line of a panel."""

    values: Floats
    """(T,)"""
    label: str = ""
    weight: float = tokens.THIN
    colour: str = "ink"
    dash: str = "continuous"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit across a panel; its far side is hatched."""

    value: float
    label: str
    above: bool
    """Whether values above it are past it."""


def thinned(time: Floats, values: Floats, across: Scale) -> tuple[Floats, Floats]:
    """Least and greatest value of each bin in the order of time; short curves stay as they are.

    Args:
        time: (T,) rising [s].
        values: (T,)
        across: Where they are drawn.

    Returns:
        Times and values, about two per bin; no peak is lost.
    """
    bins = max(round(FINEST * abs(across.end - across.start)), 1)
    if len(time) <= 2 * bins:
        return time, values
    edges = np.linspace(0, len(time), bins + 1).astype(np.int64)
    rows: list[int] = []
    for start, stop in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        part = values[start:stop]
        if stop > start and np.isfinite(part).any():
            pair = {int(np.nanargmin(part)), int(np.nanargmax(part))}
            rows += [start + k for k in sorted(pair)]
    return time[rows], values[rows]


def panel(
    ink: Ink, across: Scale, time: Floats, curves: Sequence[Curve], *, top: float, bottom: float,
    unit: str, heading: str, limit: Limit | None = None, floor: float | None = None,
    ceiling: float | None = None, inside: bool = False,
) -> Scale:  # fmt: skip
    """Draws one panel; the caller draws the time axis.

    Args:
        ink: Where to draw.
        across: Scale of time.
        time: (T,) [s].
        curves: What is shown; labels stand where the curve ends.
        top: Upper edge [mm].
        bottom: Lower edge [mm].
        unit: On the axis.
        heading: Over the panel.
        limit: Hatched on its far side; curves past it are redrawn red.
        floor: A value that the axis must show.
        ceiling: Another one.
        inside: Whether the limit is drawn only if the curves come near it.

    Returns:
        The upright scale.
    """
    finite = [c.values[np.isfinite(c.values)] for c in curves]
    known = np.concatenate([f for f in finite if len(f)] or [np.zeros(1)])
    low, high = float(known.min()), float(known.max())
    shown = limit is not None and not (inside and _far(low, high, limit))
    if limit is not None and shown:
        low, high = min(low, limit.value), max(high, limit.value)
        low, high = (low, high + 0.1 * (high - low)) if limit.above else (low, high)
    for end in (floor, ceiling):
        if end is not None:
            low, high = min(low, end), max(high, end)
    low, high, step = nice_span(low, max(high, low + 1e-3), 3)
    up = Scale(low=low, high=high, start=bottom, end=top)
    if limit is not None and shown:
        y, far = up.at(limit.value), top if limit.above else bottom
        ink.hatch([(across.start, y), (across.end, y), (across.end, far), (across.start, far)])
        ink.line(across.start, y, across.end, y, weight=tokens.THICK)
    left_axis(ink, across.start, up, step, unit)
    for curve in curves:
        x, y_values = thinned(time, curve.values, across)
        trace(ink, across, up, x, y_values, weight=curve.weight, colour=curve.colour,
              dash=curve.dash)  # fmt: skip
        if limit is not None and shown and np.isfinite(y_values).all():
            beyond(ink, across, up, x, y_values, limit=limit.value, above=limit.above)
    label = ink.text(
        across.start + 2.0, top - 1.4, heading, size=tokens.TINY, face=Face.LETTER_STRONG
    )
    if limit is not None:
        ink.text(label.right + 2.0, top - 1.4, limit.label, face=Face.LETTER, colour="ink2")
    _labels(ink, across, up, curves, top, bottom)
    return up


def _far(low: float, high: float, limit: Limit) -> bool:
    span = max(high - low, 1e-9)
    return limit.value > high + 2.0 * span if limit.above else limit.value < low - 2.0 * span


def _labels(
    ink: Ink, across: Scale, up: Scale, curves: Sequence[Curve], top: float, bottom: float
) -> None:
    """Names at the right end of the curves, moved apart."""
    ends = []
    for curve in curves:
        finite = curve.values[np.isfinite(curve.values)]
        if curve.label and len(finite):
            tail = finite[-max(len(finite) // 50, 1) :]
            ends.append((up.clamped(float(np.median(tail))), curve.label))
    gap = 1.15 * tokens.TINY
    y = top - gap
    room = bottom - gap * (len(ends) - 1)
    for at, label in sorted(ends):
        y = max(min(at + 0.33 * tokens.TINY, room), y + gap)
        room += gap
        ink.text(across.end + 1.2, y, label, face=Face.LETTER)
