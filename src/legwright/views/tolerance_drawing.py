"""What tolerances do: where feet of built legs come down, what causes it, how it stands, fits."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, degrees, pi, sin

from legwright.mechanics.tolerance_stack import FootError
from legwright.study.making import Making
from legwright.study.stride_tolerances import StrideTolerances
from legwright.views import tokens
from legwright.views.ink import Ink, Point
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.symbols import empty_sentence, limit_mark, short_names, title
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
SHOWN = 250
"""Feet drawn in each panel."""
LEFT = (4.0, 102.0)
"""The panels: left and right edge [mm]."""
MIDDLE, RIGHT = 110.0, 188.0
MOST_CAUSES = 12


def tolerance_sheet(making: Making) -> WideSheet:
    """One sheet: panels of feet, causes, stand and fits.

    Args:
        making: How the robot is made.
    """
    ink = Ink(WIDTH, HEIGHT, about=f"Tolerances of {making.robot.name}")
    title(ink, "Tolerances", "of robots as built, at the stance")
    found = making.tolerances
    if found is None or not found.feet:
        missing = ", ".join(found.missing) if found is not None else "a stance"
        empty_sentence(ink, f"Feet are not known: fill in {missing}.")
    else:
        _panels(ink, making)
        _causes(ink, found.feet[found.worst_leg], found.worst_leg)
        _stand(ink, making)
    _fits(ink, making)
    ink.line(MIDDLE - 5.0, 8.0, MIDDLE - 5.0, HEIGHT)
    ink.line(RIGHT - 5.0, 8.0, RIGHT - 5.0, HEIGHT)
    return WideSheet(
        name="tolerances", subtitle="tolerances and fits", drawing=ink.finish(), notes=_notes()
    )


def _panels(ink: Ink, making: Making) -> None:
    """Feet seen from above, nose up, each leg in the body's order."""
    found, robot = making.tolerances, making.robot
    if found is None:
        return
    hips = [(float(h[0]), float(h[1])) for h in robot.hips]
    names = short_names(tuple(robot.legs), hips)
    limit = robot.sheet.making.tolerance.foot_error
    reach = max([*(e.worst for e in found.feet.values()), 1.15 * (limit or 0.0)])
    order = {True: [], False: []}  # type: dict[bool, list[int]]
    for index in sorted(range(len(hips)), key=lambda i: -hips[i][0]):
        order[hips[index][1] >= 0.0].append(index)
    rows = max(len(order[True]), len(order[False]))
    tall = (HEIGHT - 18.0) / rows
    half = min(tall - 6.0, (LEFT[1] - LEFT[0]) / 2.0 - 8.0) / 2.0
    errors = list(found.feet.values())
    for left, members in order.items():
        for row, index in enumerate(members):
            cx = LEFT[0] + (LEFT[1] - LEFT[0]) * (0.25 if left else 0.75)
            cy = 14.0 + tall * (row + 0.5)
            _panel(ink, (cx, cy), half, half / reach, names[index], errors[index], limit)


def _panel(
    ink: Ink, centre: Point, half: float, scale: float, name: str, error: FootError,
    limit: float | None,
) -> None:  # fmt: skip
    cx, cy = centre
    if limit is not None:
        inner = _ring(centre, limit * scale)
        outer = _ring(centre, min(limit * scale + 1.8, half + 1.5))
        ink.hatch(outer, inner, gap=tokens.HATCH_GAP_NARROW)
        ink.circle(cx, cy, limit * scale, weight=tokens.THICK)
    ink.circle(cx, cy, error.worst * scale, weight=tokens.THIN, dash="phantom")
    ink.dots(
        [(cx - p[1] * scale, cy - p[0] * scale) for p in error.offsets[:SHOWN]], 0.22, fill="ink"
    )
    ink.circle(cx, cy, error.built * scale, weight=tokens.THIN, dash="hidden")
    ink.text(cx - half - 4.5, cy - half + 2.0, name, size=tokens.SMALL, face=Face.LETTER)
    ink.text(
        cx + half + 5.0, cy + half + 1.6, f"{plain(error.built * 1e3, 1)}\u202fmm", anchor="end"
    )


def _ring(centre: Point, radius: float) -> list[Point]:
    return [
        (centre[0] + radius * cos(2 * pi * k / 72), centre[1] + radius * sin(2 * pi * k / 72))
        for k in range(72)
    ]


def _causes(ink: Ink, error: FootError, leg: str) -> None:
    """Bars of the largest causes, and the three sums."""
    x, room, y = MIDDLE, RIGHT - MIDDLE - 10.0, 12.0
    ink.text(x, y, "What it comes from", face=Face.LETTER_STRONG)
    ink.text(x, y + 3.6, f"share of the variance, {leg}", face=Face.LETTER, colour="ink2")
    y += 9.0
    start, most = x + 34.0, max((share for _, share in error.shares), default=1.0)
    for name, share in error.shares[:MOST_CAUSES]:
        ink.text(x, y, name, face=Face.LETTER)
        wide = max((x + room - 10.0 - start) * share / most, 0.2)
        ink.rect(start, y - 2.0, wide, 2.2, stroke="none", fill="ink")
        ink.text(start + wide + 1.0, y, f"{plain(100 * share, 0)}\u202f%")
        y += 4.2
    left_out = sum(share for _, share in error.shares[MOST_CAUSES:])
    if left_out > 0.0:
        ink.text(x, y, f"all others {plain(100 * left_out, 0)}\u202f%", face=Face.LETTER)
        y += 4.2
    y += 4.0
    ink.text(x, y, f"Foot of {leg}", face=Face.LETTER_STRONG)
    ink.text(x + room, y, "mm", face=Face.LETTER, colour="ink2", anchor="end")
    ink.line(x, y + 1.3, x + room, y + 1.3)
    rows = (
        ("worst case", error.worst),
        ("99.7 % of legs built", error.built),
        *((f"along {axis}, root sum square", float(v))
          for axis, v in zip("xyz", error.rss, strict=True)),
        *((f"along {axis}, sampled", float(v))
          for axis, v in zip("xyz", error.sampled, strict=True)),
    )  # fmt: skip
    for name, value in rows:
        y += 4.2
        ink.text(x, y, name, face=Face.LETTER)
        ink.text(x + room, y, plain(value * 1e3, 2), anchor="end")


def _stand(ink: Ink, making: Making) -> None:
    x, room, y = RIGHT, WIDTH - RIGHT - 4.0, 12.0
    found = making.tolerances
    ink.text(x, y, "How it stands", face=Face.LETTER_STRONG)
    ink.text(x, y + 3.6, "flat, hard ground; 99.7 % of robots built", face=Face.LETTER,
             colour="ink2")  # fmt: skip
    ink.line(x, y + 5.2, x + room, y + 5.2)
    y += 9.4
    stand = found.stand if found is not None else None
    if stand is None:
        ink.text(x, y, "not known", face=Face.LETTER)
        return
    judged = {finding.name: finding for finding in making.findings}
    rows: Sequence[tuple[str, str, str]] = (
        ("foot position", "", "foot position, as built"),
        ("body tilt", f"{plain(degrees(stand.tilt), 2)}°", "body tilt, as built"),
        ("body height, ±", f"{plain(stand.height * 1e3, 2)}\u202fmm", ""),
        ("a foot hangs by", f"{plain(stand.gap * 1e3, 2)}\u202fmm", ""),
        ("tilt at worst", f"{plain(degrees(stand.worst_tilt), 2)}°", ""),
        *_walking(making.strides),
    )
    for name, value, key in rows:
        finding = judged.get(key)
        words = value
        if finding is not None:
            limit_mark(ink, x, y - 2.2, 2.4, finding.verdict)
            if not words and finding.value is not None:
                words = f"{plain(finding.value, 2)}\u202fmm"
            if finding.limit is not None:
                unit = "°" if finding.unit == "°" else f"\u202f{finding.unit}"
                words += f"   ≤ {plain(finding.limit, 1)}{unit}"
        ink.text(x + 6.0, y, name, face=Face.LETTER)
        ink.text(x + room, y, words, anchor="end")
        y += 4.6


def _walking(strides: StrideTolerances | None) -> Sequence[tuple[str, str, str]]:
    """The same in the least exact pose of the walks."""
    if strides is None:
        return ()
    tilt = "" if strides.tilt is None else f"{plain(degrees(strides.tilt), 2)}°"
    rows = (
        ("foot position, walking", "", "foot position, walking"),
        ("body tilt, walking", tilt, "body tilt, walking"),
    )
    return rows if tilt else rows[:1]


def _fits(ink: Ink, making: Making) -> None:
    x, room, y = RIGHT, WIDTH - RIGHT - 4.0, 56.0
    ink.text(x, y, "Fits at the hip", face=Face.LETTER_STRONG)
    ink.text(x + room, y, "clearance µm", face=Face.LETTER, colour="ink2", anchor="end")
    ink.line(x, y + 1.3, x + room, y + 1.3)
    if not making.fits:
        ink.text(x, y + 5.0, "not known: servo mounts are not stated", face=Face.LETTER)
        return
    from legwright.views.lettering import wrap

    for one in making.fits:
        y += 5.4
        ink.text(x, y, f"⌀{plain(one.diameter * 1e3, 0)} {one.fit.name}", face=Face.LETTER_STRONG)
        least, most = (round(v * 1e6) for v in (one.fit.least, one.fit.most))
        ink.text(x + room, y, f"{plain(least, 0)} to {plain(most, 0)}", anchor="end")
        words = f"{one.where}; {one.fit.kind}; {one.why}"
        for line in wrap(words, tokens.TINY, room / tokens.ON_SCREEN, Face.LETTER):
            y += 3.3
            ink.text(x, y, line, face=Face.LETTER, colour="ink2")


def _notes() -> tuple[str, ...]:
    return (
        "Panels, nose up: dots, feet of legs built by chance; dashed, 99.7 % of them; thick and "
        "hatched, allowed; chain line, worst case.",
        "Lengths and axes normal, limits at 3σ; play and zeros uniform.",
        "Advises; the workshop's own measurements decide.",
    )
