"""Static stability margin against the phase of the cycle, with the wanted margin hatched."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from legwright.robot.robot import Robot
from legwright.views import tokens
from legwright.views.axes import Scale, beyond, left_axis, nice_span, trace
from legwright.views.ink import Ink
from legwright.views.lettering import Face
from legwright.views.numbers import plain

if TYPE_CHECKING:
    from legwright.study.evidence import Case


def margin_plot(
    ink: Ink, robot: Robot, case: Case, across: Scale, *, top: float, bottom: float
) -> None:
    """Draws the margin of one case; the caller draws the phase axis.

    Args:
        ink: Where to draw.
        robot: The robot; its sheet says what margin is wanted.
        case: What it walks.
        across: Scale of the phase.
        top: Upper edge of the plot [mm].
        bottom: Lower edge [mm].
    """
    margin = np.asarray(case.loads.margin, dtype=np.float64) * 1000.0
    wanted = (robot.sheet.requirements.stability_margin or 0.0) * 1000.0
    finite = margin[np.isfinite(margin)]
    least = float(finite.min()) if len(finite) else 0.0
    most = float(finite.max()) if len(finite) else 1.0
    low, high, step = nice_span(min(0.0, least), max(most, wanted * 1.5, 1.0), 3)
    up = Scale(low=low, high=high, start=bottom, end=top)
    left_axis(ink, across.start, up, step, "mm")
    limit = up.at(wanted)
    ink.hatch(
        [(across.start, bottom), (across.end, bottom), (across.end, limit), (across.start, limit)]
    )
    ink.line(across.start, limit, across.end, limit, weight=tokens.THICK)
    phase = np.append(case.motion.t / case.motion.cycle, 1.0)
    closed = np.append(margin, margin[0])
    trace(ink, across, up, phase, closed, weight=tokens.THICK)
    beyond(ink, across, up, phase, closed, limit=wanted, above=False)
    at = int(np.argmin(margin))
    words = f"least {plain(np.floor(least), 0)}, wanted {plain(wanted, 0)}"
    x = across.at(float(phase[at]))
    ink.circle(x, up.clamped(least), 0.7, stroke="none", fill="red" if least < wanted else "ink")
    ink.text_where_free(
        [
            (across.end - 0.5, top + 1.0, "end"),
            (across.start + 3.0, top + 1.0, "start"),
            (across.end - 0.5, bottom - 1.0, "end"),
        ],
        f"static margin: {words}",
        face=Face.LETTER,
        colour="red" if least < wanted else "ink",
        knock=True,
    )
