"""Feet of a run: when each stood and when it was felt, how late, and with how much force."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from legwright.study.scorecard import LIMITS
from legwright.study.touchdowns import ONSET, SCORED, Kind, Mark, marks
from legwright.views import tokens
from legwright.views.axes import Scale, bottom_axis, left_axis, nice_step
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face
from legwright.views.run import Run
from legwright.views.symbols import empty_sentence, leg_key, title
from legwright.views.time_plot import Curve, panel
from legwright.views.timing import runs
from legwright.views.wide_sheet import ROOM

WINDOW = 8.0
"""Length of a close look [s]."""
GAP = 1.4
"""Between a plot and its time axis, so that their figures stay apart [mm]."""
DELAYS = 0.1
"""Largest delay on the axis [s]."""


def touchdowns_of(run: Run) -> tuple[Mark, ...]:
    """Declared touch-downs of the walk; none where there is no truth."""
    first = min(run.row(run.begin), len(run.time))
    if run.force is None or first >= len(run.time):
        return ()
    found = marks(run.force[first:], run.contact[first:], rate=run.rate, weight=run.weight)
    return tuple(
        Mark(leg=m.leg, row=m.row + first, onset=m.onset + first, force=m.force, kind=m.kind)
        for m in found
    )


def worst_window(run: Run, found: Sequence[Mark]) -> tuple[float, float]:
    """Eight seconds around the worst touch-down: a miss, else a false alarm, else the latest.

    Args:
        run: The run.
        found: Its touch-downs.

    Returns:
        From, to [s].
    """
    order = {Kind.MISS: 0, Kind.FALSE: 1, Kind.HIT: 2}
    ranked = sorted(found, key=lambda m: (order[m.kind], m.onset - m.row))
    end = float(run.time[-1])
    start = min(run.begin, end)
    middle = float(run.time[ranked[0].row]) if ranked else start + 0.5 * WINDOW
    first = min(max(middle - 0.5 * WINDOW, start), max(end - WINDOW, start))
    return first, min(first + WINDOW, end)


def feet_drawing(run: Run) -> Drawing:
    """Gait diagram of the whole walk, a close look, and the delay of every touch-down."""
    width, height = ROOM
    ink = Ink(width, height, about="When each foot stood and when it was felt")
    title(ink, "Feet on the ground", "bar = stood, line over it = felt to stand")
    end = float(run.time[-1])
    start = min(run.begin, end)
    found = touchdowns_of(run)
    across = Scale(low=start, high=max(end, start + 0.1), start=20.0, end=width - 8.0)
    bottom = _gait(ink, run, across, found, top=10.0, row=4.6, close=False)
    bottom_axis(ink, bottom + 1.0, across, nice_step(end - start, 10), "s")
    low, high = worst_window(run, found)
    close = Scale(low=low, high=max(high, low + 0.1), start=20.0, end=width - 8.0)
    words = "arrow: felt touch-down and its delay, ms" if found else ""
    ink.text(4.0, 55.0, "A close look", size=tokens.SMALL, face=Face.LETTER_STRONG)
    ink.text(25.0, 55.0, words, size=tokens.SMALL, face=Face.LETTER, colour="ink2")
    bottom = _gait(ink, run, close, found, top=59.0, row=7.6, close=True)
    bottom_axis(ink, bottom + 1.0, close, nice_step(high - low, 8), "s")
    if run.force is None:
        words = "Without the truth of a simulated world nobody can say how late a foot was felt."
        empty_sentence(ink, words, y=bottom + 14.0)
    else:
        _delays(ink, run, across, found, top=bottom + 14.0, bottom=height - 8.5)
    return ink.finish()


def _gait(
    ink: Ink, run: Run, across: Scale, found: Sequence[Mark], *, top: float, row: float,
    close: bool,
) -> float:  # fmt: skip
    """Rows of all legs; returns the lower edge [mm]."""
    true = run.contact if run.force is None else run.force > ONSET
    inside = (run.time >= across.low) & (run.time <= across.high)
    rows = np.flatnonzero(inside)
    y = top
    for leg, name in enumerate(run.legs):
        if leg and (run.hips[leg][1] >= 0) != (run.hips[leg - 1][1] >= 0):
            y += 0.25 * row
        base = y + 0.85 * row
        ink.line(across.start, base, across.end, base, stroke="line", weight=tokens.FINE)
        _bars(ink, run, across, rows, true[:, leg], base - 0.36 * row, 0.36 * row)
        _bars(ink, run, across, rows, run.contact[:, leg], base - 0.56 * row, 0.09 * row)
        leg_key(ink, 6.5, base - 0.25 * row, min(0.95 * row, 5.0), run.hips, leg=leg)
        ink.text(18.0, y + 0.75 * row, name, face=Face.LETTER, anchor="end")
        for mark in found:
            if mark.leg == leg and across.low <= run.time[mark.row] <= across.high:
                _mark(ink, run, across, mark, base, row, close)
        y += row
    return y


def _bars(
    ink: Ink, run: Run, across: Scale, rows: NDArray[np.int64], on: NDArray[np.bool_], top: float,
    tall: float,
) -> None:  # fmt: skip
    if not len(rows):
        return
    for first, last in runs(on[rows]):
        left = across.at(float(run.time[rows[first]]))
        right = across.clamped(float(run.time[rows[last]]) + 1.0 / run.rate)
        ink.rect(left, top, max(right - left, 0.05), tall, stroke="none", fill="ink")


def _mark(
    ink: Ink, run: Run, across: Scale, mark: Mark, base: float, row: float, close: bool
) -> None:
    x = across.at(float(run.time[mark.row]))
    wrong = mark.kind is not Kind.HIT
    if not close:
        if wrong:
            ink.circle(x, base - 0.75 * row, 0.55, stroke="none", fill="red")
        return
    ink.arrow_head(x, base - 0.6 * row, np.pi / 2, length=1.5, stroke="red" if wrong else "ink")
    delay = (mark.row - mark.onset) / run.rate
    words = f"{1e3 * delay:.0f}" if mark.kind is Kind.HIT else mark.kind.value
    ink.text_where_free(
        [(x + 0.9, base - 0.66 * row, "start"), (x - 0.9, base - 0.66 * row, "end")], words,
        face=Face.LETTER, colour="red" if wrong else "ink",
    )  # fmt: skip


def _delays(
    ink: Ink, run: Run, across: Scale, found: Sequence[Mark], *, top: float, bottom: float
) -> None:
    """A dot for every touch-down: how late it was felt."""
    limit = 1e3 * LIMITS["delay_p95"][1]
    hits = [m for m in found if m.kind is Kind.HIT]
    late = np.array([1e3 * (m.row - m.onset) / run.rate for m in hits])
    high = float(np.clip(late.max() if len(late) else 0.0, 60.0, 1e3 * DELAYS))
    up = Scale(low=0.0, high=high, start=bottom, end=top)
    y = up.at(limit)
    ink.hatch([(across.start, y), (across.end, y), (across.end, top), (across.start, top)])
    ink.line(across.start, y, across.end, y, weight=tokens.THICK)
    left_axis(ink, across.start, up, 20.0, "ms")
    bottom_axis(
        ink, bottom + GAP, across, nice_step(across.high - across.low, 10), "s", quantity="time"
    )
    points = [
        (across.at(float(run.time[m.row])), up.clamped(float(v)), v > limit)
        for m, v in zip(hits, late, strict=True)
    ]
    ink.dots([p[:2] for p in points if not p[2]], 0.55)
    ink.dots([p[:2] for p in points if p[2]], 0.55, fill="red")
    wrong = {kind: sum(m.kind is kind for m in found) for kind in (Kind.MISS, Kind.FALSE)}
    words = f"{len(hits)} felt, {wrong[Kind.MISS]} missed, {wrong[Kind.FALSE]} false alarms"
    if len(late):
        words += f"; median {np.median(late):.0f} ms, 95 % {np.percentile(late, 95):.0f} ms"
    label = ink.text(
        across.start + 2.0, top - 1.6, "Delay from first touch to felt", face=Face.LETTER_STRONG
    )
    ink.text(label.right + 2.0, top - 1.6, words, face=Face.LETTER, colour="ink2")


def force_drawing(run: Run) -> Drawing:
    """Force on each foot, true and felt, in body order, over a close look."""
    width, height = ROOM
    ink = Ink(width, height, about="Force on each foot, true and felt")
    thick = "thick = true, thin = felt; " if run.force is not None else "as felt; "
    title(ink, "Force on each foot", thick + "chain line: 8 % of weight; cut at the frame")
    low, high = worst_window(run, touchdowns_of(run))
    rows = np.flatnonzero((run.time >= low) & (run.time <= high))
    if not len(rows):
        empty_sentence(ink, "The recording ends before the walk begins.")
        return ink.finish()
    left = [n for n, hip in enumerate(run.hips) if hip[1] >= 0]
    right = [n for n, hip in enumerate(run.hips) if hip[1] < 0]
    tall = (height - 22.0) / max(len(left), len(right), 1)
    for side, legs in ((0, left), (1, right)):
        start = 14.0 + side * width / 2
        across = Scale(low=low, high=high, start=start, end=start + width / 2 - 20.0)
        for place, leg in enumerate(legs):
            top = 12.0 + place * tall
            _force(ink, run, across, rows, leg, top=top, bottom=top + tall - 7.0)
        bottom = 12.0 + len(legs) * tall - 7.0
        bottom_axis(ink, bottom + GAP, across, nice_step(high - low, 5), "s", quantity="time")
    return ink.finish()


def _most(run: Run, rows: NDArray[np.int64]) -> float:
    """Largest force shown, one for all feet [N]: the true ones fit, felt ones may be cut."""
    known = run.felt[rows] if run.force is None else run.force[rows]
    finite = known[np.isfinite(known)]
    return float(np.clip(finite.max() if len(finite) else 0.0, 0.3 * run.weight, run.weight))


def _force(
    ink: Ink, run: Run, across: Scale, rows: NDArray[np.int64], leg: int, *, top: float,
    bottom: float,
) -> None:  # fmt: skip
    most = _most(run, rows)
    curves = []
    if run.force is not None:
        values = np.clip(run.force[rows, leg], 0.0, most)
        curves.append(Curve(values=values, weight=tokens.THICK))
    curves.append(Curve(values=np.clip(run.felt[rows, leg], 0.0, most)))
    up = panel(
        ink, across, run.time[rows], curves, top=top, bottom=bottom, unit="N",
        heading=run.legs[leg], floor=0.0, ceiling=most,
    )  # fmt: skip
    y = up.clamped(SCORED * run.weight)
    ink.line(across.start, y, across.end, y, dash="centre", weight=tokens.FINE)
