"""The signs that all sheets share: limit mark, balloon, centre of mass, leg key, dimension."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import pi

from legwright.study.finding import Verdict
from legwright.views import tokens
from legwright.views.ink import Drawing, Ink, Point, box_of
from legwright.views.lettering import Face

WORDS: Mapping[Verdict, str] = {
    Verdict.PASS: "pass",
    Verdict.WARN: "warn",
    Verdict.FAIL: "fail",
    Verdict.UNKNOWN: "not known",
}


def limit_mark(ink: Ink, x: float, y: float, side: float, verdict: Verdict) -> None:
    """A frame (what is allowed) and a dot (what is so).

    Args:
        ink: Where to draw.
        x: Left edge of the frame [mm].
        y: Top edge [mm].
        side: Side of the frame; the mark is 1.75 sides wide [mm].
        verdict: What it says.
    """
    red = verdict is Verdict.FAIL
    weight = side * (0.17 if red else 0.085)
    inner = side - weight
    frame = ink.rect
    if verdict is Verdict.UNKNOWN:
        piece = inner / 9.0
        corners = [
            (x + weight / 2, y + weight / 2),
            (x + side - weight / 2, y + weight / 2),
            (x + side - weight / 2, y + side - weight / 2),
            (x + weight / 2, y + side - weight / 2),
        ]
        ink.segments(_dashed_square(corners, piece), stroke="ink", weight=weight)
        return
    frame(
        x + weight / 2, y + weight / 2, inner, inner, stroke="red" if red else "ink", weight=weight
    )
    at = (x + tokens.DOT_AT[verdict.value] * side, y + side / 2)
    if verdict is Verdict.PASS:
        ink.circle(*at, 0.17 * side, stroke="none", fill="ink")
    elif verdict is Verdict.WARN:
        ink.circle(*at, 0.25 * side - weight / 2, weight=weight, fill="yellow")
    else:
        ink.circle(*at, 0.25 * side, stroke="none", fill="red")


def _dashed_square(corners: Sequence[Point], piece: float) -> list[tuple[Point, Point]]:
    pieces = []
    for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        length = max(abs(x1 - x0), abs(y1 - y0))
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        for start in range(0, 9, 2):
            a, b = start * piece, (start + 1) * piece
            pieces.append(((x0 + dx * a, y0 + dy * a), (x0 + dx * b, y0 + dy * b)))
    return pieces


def mark(verdict: Verdict, side: float) -> Drawing:
    """The limit mark alone, 1.75 sides wide.

    Args:
        verdict: What it says.
        side: [mm].

    Returns:
        The drawing.
    """
    ink = Ink(1.75 * side, side, about=WORDS[verdict])
    limit_mark(ink, 0.0, 0.0, side, verdict)
    return ink.finish()


def balloon(
    ink: Ink,
    x: float,
    y: float,
    number: int,
    verdict: Verdict,
    *,
    points_at: Point | None = None,
    radius: float = 2.1,
) -> None:
    """A finding's number in a circle, with a leader to what it speaks of.

    Args:
        ink: Where to draw.
        x: Centre [mm].
        y: Centre [mm].
        number: Number of the finding.
        verdict: Red for a fail, yellow for a warning, dashed for not known, else plain.
        points_at: End of the leader [mm]; no leader when None.
        radius: [mm].
    """
    colour = "red" if verdict is Verdict.FAIL else "ink"
    if points_at is not None:
        ink.line(x, y, *points_at, stroke=colour)
        ink.circle(*points_at, 0.45, stroke="none", fill=colour)
    fill = {Verdict.FAIL: "red", Verdict.WARN: "yellow"}.get(verdict, "sheet")
    letter = {Verdict.FAIL: "sheet", Verdict.WARN: "on-yellow"}.get(verdict, "ink")
    ink.circle(
        x,
        y,
        radius,
        stroke="none" if verdict is Verdict.FAIL else "ink",
        weight=tokens.THIN,
        fill=fill,
        dash="hidden" if verdict is Verdict.UNKNOWN else "continuous",
    )
    size = radius * (1.25 if number < 10 else 1.05)
    ink.text(
        x,
        y + 0.35 * size,
        str(number),
        size=size,
        face=Face.LETTER_STRONG,
        colour=letter,
        anchor="middle",
    )
    ink.balloons.append((number, x, y))


def centre_of_mass(ink: Ink, x: float, y: float, radius: float = 2.0) -> None:
    """The quartered disc that marks a centre of mass [mm]."""
    ink.circle(x, y, radius, stroke="none", fill="sheet")
    quarter = 0.5523 * radius
    for sx, sy in ((1.0, -1.0), (-1.0, 1.0)):
        arc = [
            (sx * radius * c, sy * radius * s)
            for c, s in (
                (1.0, 0.0),
                (0.966, 0.259),
                (0.866, 0.5),
                (0.707, 0.707),
                (0.5, 0.866),
                (0.259, 0.966),
                (0.0, 1.0),
            )
        ]
        ink.path(
            [(x, y), *((x + px, y + py) for px, py in arc)], stroke="none", fill="ink", close=True
        )
    ink.circle(x, y, radius, weight=max(tokens.THIN, quarter * 0.25))


def leg_key(
    ink: Ink, x: float, y: float, height: float, hips: Sequence[Point], *, leg: int
) -> None:
    """A tiny plan, nose up, with one leg inked.

    Args:
        ink: Where to draw.
        x: Centre [mm].
        y: Centre [mm].
        height: Of the whole key [mm].
        hips: Hip positions in the body frame, x forward, y left.
        leg: Index of the inked leg.
    """
    reach_x = max((abs(h[0]) for h in hips), default=1.0) or 1.0
    long, wide = height * 0.66, height * 0.36
    ink.rect(x - wide / 2, y - long / 2, wide, long, weight=tokens.FINE, fill="sheet")
    for index, (hx, hy) in enumerate(hips):
        side = -1.0 if hy > 0 else 1.0
        along = -hx / reach_x
        x0, y0 = x + side * wide / 2, y + along * long * 0.42
        x1, y1 = x + side * height * 0.5, y + along * height * 0.46
        inked = index == leg
        ink.line(
            x0, y0, x1, y1, stroke="ink" if inked else "line", weight=0.6 if inked else tokens.FINE
        )


def short_names(names: Sequence[str], hips: Sequence[Point]) -> tuple[str, ...]:
    """Leg names short enough for a drawing: L1, L2, … front to rear, then R1, R2 and so on.

    Args:
        names: Leg names.
        hips: Hip positions, x forward, y left, same order.

    Returns:
        One short name per leg; the names themselves where they are already short.
    """
    if all(len(name) <= 3 for name in names):
        return tuple(names)
    count = {"L": 0, "R": 0}
    order = sorted(range(len(names)), key=lambda i: -hips[i][0])
    short = [""] * len(names)
    for index in order:
        side = "L" if hips[index][1] >= 0.0 else "R"
        count[side] += 1
        short[index] = f"{side}{count[side]}"
    return tuple(short)


def dimension(ink: Ink, start: Point, end: Point, words: str) -> None:
    """A horizontal or vertical dimension line with two arrowheads and its number [mm]."""
    (x0, y0), (x1, y1) = start, end
    flat = abs(y1 - y0) < abs(x1 - x0)
    ink.line(x0, y0, x1, y1)
    angle = 0.0 if flat else pi / 2
    sign = 1.0 if (x1 - x0 if flat else y1 - y0) > 0 else -1.0
    ink.arrow_head(x1, y1, angle if sign > 0 else angle + pi)
    ink.arrow_head(x0, y0, angle + pi if sign > 0 else angle)
    if flat:
        ink.text((x0 + x1) / 2, y0 - 0.9, words, anchor="middle", knock=True)
    else:
        ink.text(x0 - 0.9, (y0 + y1) / 2, words, anchor="middle", upright=True, knock=True)


def title(ink: Ink, words: str, more: str = "") -> None:
    """The drawing's name at its top left, and what it shows."""
    ink.text(4.0, 5.2, words, size=tokens.SMALL, face=Face.LETTER_STRONG)
    if more:
        start = box_of(4.0, 5.2, words, size=tokens.SMALL, face=Face.LETTER_STRONG).right + 1.8
        ink.text(start, 5.2, more, size=tokens.SMALL, face=Face.LETTER, colour="ink2")


def empty_sentence(ink: Ink, words: str, *, x: float = 4.0, y: float = 12.0) -> None:
    """One sentence on what to enter, in the text face, broken to the drawing's width."""
    from legwright.views.lettering import wrap

    for row, line in enumerate(wrap(words, tokens.FINDING_TEXT, ink.width - x - 4.0, Face.TEXT)):
        ink.text(
            x,
            y + row * tokens.FINDING_TEXT * tokens.LEADING,
            line,
            size=tokens.FINDING_TEXT,
            face=Face.TEXT,
            colour="ink2",
        )
