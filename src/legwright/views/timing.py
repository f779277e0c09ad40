"""Foot timing: a bar while the foot stands on the ground, legs in body order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from legwright.robot.robot import Robot
from legwright.views import tokens
from legwright.views.axes import Scale, bottom_axis
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.symbols import leg_key, short_names, title

if TYPE_CHECKING:
    from legwright.study.evidence import Case


def timing_rows(
    ink: Ink, robot: Robot, case: Case, across: Scale, *, top: float, row: float
) -> float:
    """Draws one row a leg: key, name, bar.

    Args:
        ink: Where to draw.
        robot: The robot.
        case: What it walks.
        across: Scale of the phase.
        top: Upper edge of the first row [mm].
        row: Height of a row [mm].

    Returns:
        Lower edge of the last row [mm].
    """
    hips = [(float(h[0]), float(h[1])) for h in robot.hips]
    names = short_names(tuple(robot.legs), hips)
    phases = case.motion.t / case.motion.cycle
    step = float(phases[1] - phases[0]) if len(phases) > 1 else 1.0
    y = top
    for index, name in enumerate(names):
        if index and (hips[index][1] >= 0) != (hips[index - 1][1] >= 0):
            y += 0.3 * row
        middle = y + row / 2
        ink.line(across.start, middle, across.end, middle, stroke="line", weight=tokens.FINE)
        for first, last in runs(case.motion.contact[:, index]):
            left, right = across.at(phases[first]), across.at(phases[last] + step)
            ink.rect(left, middle - 0.27 * row, right - left, 0.54 * row, stroke="none", fill="ink")
        leg_key(ink, across.start - 9.5, middle, row * 0.95, hips, leg=index)
        size = min(tokens.TINY, row * 0.98)
        ink.text(
            across.start - 1.6,
            middle + 0.35 * size,
            name,
            size=size,
            face=Face.LETTER,
            anchor="end",
        )
        y += row
    return y


def runs(on: np.ndarray) -> list[tuple[int, int]]:
    """First and last index of each run of True, (T,) bool."""
    edges = np.diff(np.concatenate([[0], np.asarray(on, dtype=np.int8), [0]]))
    return list(
        zip(
            np.flatnonzero(edges == 1).tolist(),
            (np.flatnonzero(edges == -1) - 1).tolist(),
            strict=True,
        )
    )


def cursor(ink: Ink, case: Case, across: Scale, top: float, bottom: float) -> None:
    """A centre line at the worst instant, with a pointer and its phase above."""
    phase = float(case.motion.t[int(np.argmin(case.loads.margin))] / case.motion.cycle)
    x = across.at(phase)
    ink.path(
        [(x - 1.2, top - 2.2), (x + 1.2, top - 2.2), (x, top)],
        stroke="none",
        fill="ink",
        close=True,
    )
    ink.line(x, top, x, bottom, dash="centre")
    words = f"φ {plain(phase, 2)}, worst instant"
    ink.text_where_free(
        [(x + 2.0, top - 0.6, "start"), (x - 2.0, top - 0.6, "end")], words, face=Face.LETTER
    )


def timing(robot: Robot, case: Case, *, width: float, height: float) -> Drawing:
    """Foot timing over the static margin, on one phase axis.

    Args:
        robot: The robot.
        case: What it walks.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    from legwright.views.stability import margin_plot

    ink = Ink(width, height, about=f"Foot timing and static margin, {case.name}")
    title(ink, case.name[:1].upper() + case.name[1:], "bar = foot on the ground")
    across = Scale(low=0.0, high=1.0, start=17.0, end=width - 5.0)
    rows = len(robot.legs) + 0.3
    row = min(4.2, (height - 42.0) / rows) if height > 60.0 else (height - 12.0) * 0.5 / rows
    bottom = timing_rows(ink, robot, case, across, top=11.0, row=row)
    floor = height - 8.5
    cursor(ink, case, across, 11.0, floor)
    margin_plot(ink, robot, case, across, top=bottom + 3.0, bottom=floor)
    bottom_axis(ink, floor, across, 0.2, "", quantity="phase")
    return ink.finish()
