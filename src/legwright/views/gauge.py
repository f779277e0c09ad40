"""A finding as a gauge: inside on the left, the limit in the middle, hatched beyond it."""

from __future__ import annotations

from legwright.study.finding import Finding, Verdict
from legwright.views import tokens
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face
from legwright.views.numbers import limit_text, value_text
from legwright.views.ranking import excess


def gauge(finding: Finding, *, width: float = 46.0, height: float = 14.4) -> Drawing:
    """One limit as a line: dot left of it is inside, right of it outside.

    The line runs from one limit inside to one limit outside; a value farther out has an
    arrowhead instead of a dot.

    Args:
        finding: What to show.
        width: [mm]
        height: [mm]

    Returns:
        The drawing.
    """
    ink = Ink(width, height, about=f"{finding.name}: {value_text(finding)}, {limit_text(finding)}")
    middle, y = width / 2, height * 0.66
    ink.line(middle, 0.0, middle, height, weight=tokens.THICK)
    red = finding.verdict is Verdict.FAIL
    if limit := limit_text(finding):
        ink.text(middle - 1.4, 4.6, limit, face=Face.LETTER, anchor="end")
    words = value_text(finding, unit=limit == "")
    ink.text(
        middle + 1.4,
        4.8,
        words,
        size=tokens.SMALL if len(words) < 10 else tokens.TINY,
        face=Face.LETTER_STRONG,
        colour="red" if red else "ink",
    )
    if finding.value is None or finding.limit is None:
        ink.rect(0.3, y - 1.7, width - 0.6, 3.4, dash="hidden")
        return ink.finish()
    ink.line(0.3, y, width - 0.3, y)
    ink.line(0.3, y - 0.9, 0.3, y + 0.9)
    ink.hatch(
        [(middle, y - 1.4), (width - 0.3, y - 1.4), (width - 0.3, y + 1.4), (middle, y + 1.4)]
    )
    past = excess(finding)
    x = middle + min(max(past, -1.0), 1.0) * (width / 2 - 2.0)
    if red:
        ink.line(middle, y, x, y, stroke="red", weight=tokens.RED_TRACE)
    if finding.verdict is Verdict.WARN:
        ink.circle(x, y, 1.2, fill="yellow")
    elif past > 1.0:
        ink.arrow_head(width - 0.3, y, 0.0, stroke="red" if red else "ink", length=3.2)
    else:
        ink.circle(x, y, 1.25 if red else 0.9, stroke="none", fill="red" if red else "ink")
    return ink.finish()
