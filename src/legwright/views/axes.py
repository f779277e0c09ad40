"""Plot axes as the sheets draw them: left and bottom only, ticks inside, the unit among them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, isfinite, log10

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats
from legwright.views import tokens
from legwright.views.ink import Ink, Point
from legwright.views.lettering import Face
from legwright.views.numbers import plain


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A span of numbers laid along a span of paper."""

    low: float
    high: float
    start: float
    """Where `low` lies [mm]."""
    end: float
    """Where `high` lies [mm]."""

    def at(self, value: float) -> float:
        """Where a number lies [mm]."""
        span = self.high - self.low or 1.0
        return self.start + (value - self.low) / span * (self.end - self.start)

    def clamped(self, value: float) -> float:
        """Where a number lies, held inside the span [mm]."""
        return self.at(min(max(value, self.low), self.high))


def nice_step(span: float, parts: int) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts a span into about so many parts.

    Args:
        span: > 0.
        parts: About how many steps are wanted.

    Returns:
        The step.
    """
    if not (isfinite(span) and span > 0.0):
        return 1.0
    rough = span / max(parts, 1)
    power = 10.0 ** floor(log10(rough))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= rough * 0.999)


def nice_span(low: float, high: float, parts: int) -> tuple[float, float, float]:
    """A span widened to whole steps.

    Args:
        low: Smallest number to show.
        high: Largest number to show.
        parts: About how many steps are wanted.

    Returns:
        (low, high, step).
    """
    step = nice_step(max(high - low, 1e-9), parts)
    return floor(low / step + 1e-9) * step, ceil(high / step - 1e-9) * step, step


def ticks(scale: Scale, step: float) -> list[float]:
    """The numbers at whole steps inside a scale."""
    first = ceil(scale.low / step - 1e-6)
    last = floor(scale.high / step + 1e-6)
    return [i * step for i in range(first, last + 1)]


def tick_words(values: Sequence[float], step: float, unit: str) -> list[str]:
    """Tick labels; the last but one gives way to the unit.

    Args:
        values: The numbers.
        step: Distance between them.
        unit: The unit, or empty.

    Returns:
        One label each.
    """
    decimals = max(0, -floor(log10(step) + 1e-9)) if step > 0 else 0
    words = [plain(value, decimals) for value in values]
    words = [
        "0" if float(value) == 0.0 else word for value, word in zip(values, words, strict=True)
    ]
    if unit and len(words) >= 2:
        words[-2 if len(words) > 2 else -1] = unit
    return words


def left_axis(
    ink: Ink, x: float, scale: Scale, step: float, unit: str, *, size: float = tokens.TINY
) -> None:
    """The upright axis at x, ticks inside, labels left of it."""
    ink.line(x, scale.start, x, scale.end)
    values = ticks(scale, step)
    for value, word in zip(values, tick_words(values, step, unit), strict=True):
        y = scale.at(value)
        ink.line(x, y, x + 1.0, y)
        ink.text(x - 0.9, y + 0.33 * size, word, size=size, face=Face.LETTER, anchor="end")


def bottom_axis(
    ink: Ink,
    y: float,
    scale: Scale,
    step: float,
    unit: str,
    *,
    quantity: str = "",
    size: float = tokens.TINY,
) -> None:
    """The level axis at y, ticks inside, labels under it, then the quantity and an arrow."""
    ink.line(scale.start, y, scale.end, y)
    values = ticks(scale, step)
    for value, word in zip(values, tick_words(values, step, unit), strict=True):
        x = scale.at(value)
        ink.line(x, y, x, y - 1.0)
        ink.text(x, y + 1.1 * size, word, size=size, face=Face.LETTER, anchor="middle")
    if quantity:
        middle = (scale.start + scale.end) / 2
        label = ink.text(
            middle - 3.0, y + 2.3 * size, quantity, size=size, face=Face.LETTER, anchor="middle"
        )
        level = y + 2.3 * size - 0.3 * size
        ink.arrow(label.right + 1.5, level, label.right + 8.5, level)


def trace(
    ink: Ink,
    across: Scale,
    up: Scale,
    x: Floats,
    y: Floats,
    *,
    weight: float,
    colour: str = "ink",
    dash: str = "continuous",
    shown: NDArray[np.bool_] | None = None,
) -> None:
    """A curve; only where ``shown`` is True, broken elsewhere.

    Args:
        ink: Where to draw.
        across: Scale of x.
        up: Scale of y.
        x: (N,)
        y: (N,)
        weight: Line width [mm].
        colour: Colour name.
        dash: Line kind.
        shown: (N,) bool, or None for all.
    """
    keep = np.isfinite(y) if shown is None else (np.isfinite(y) & shown)
    run: list[Point] = []
    for i in range(len(x)):
        if keep[i]:
            run.append((across.at(float(x[i])), up.clamped(float(y[i]))))
        if (not keep[i] or i == len(x) - 1) and run:
            ink.path(
                run if len(run) > 1 else [run[0], run[0]],
                stroke=colour,
                weight=weight,
                dash=dash,
                round_ends=True,
            )
            run = []


def beyond(
    ink: Ink, across: Scale, up: Scale, x: Floats, y: Floats, *, limit: float, above: bool
) -> None:
    """Redraws in red the part of a curve that lies past a limit, cut exactly at the limit.

    Args:
        ink: Where to draw.
        across: Scale of x.
        up: Scale of y.
        x: (N,) rising.
        y: (N,)
        limit: The limit in y.
        above: True where values above the limit are past it.
    """
    sign = 1.0 if above else -1.0
    over = sign * (y - limit)
    run: list[Point] = []
    for i in range(len(x)):
        if i and (over[i] > 0) != (over[i - 1] > 0) and over[i] != over[i - 1]:
            share = over[i - 1] / (over[i - 1] - over[i])
            cut = (across.at(float(x[i - 1] + share * (x[i] - x[i - 1]))), up.clamped(limit))
            run.append(cut)
            if over[i] <= 0:
                ink.path(run, stroke="red", weight=tokens.RED_TRACE, round_ends=False)
                run = []
        if over[i] > 0:
            run.append((across.at(float(x[i])), up.clamped(float(y[i]))))
    if len(run) > 1:
        ink.path(run, stroke="red", weight=tokens.RED_TRACE)
