"""The sheets of a walk: scorecard and way first, then feet, forces, power, body, events."""

from __future__ import annotations

from collections.abc import Sequence

from legwright.study.finding import Finding, Verdict
from legwright.study.scorecard import Line, Scorecard
from legwright.views import tokens
from legwright.views.foot_plots import feet_drawing, force_drawing
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face, wrap
from legwright.views.list_sheets import Column, Table, table_sheets
from legwright.views.run import Run
from legwright.views.run_plots import body_drawing, path_plot, power_drawing
from legwright.views.symbols import limit_mark
from legwright.views.walk_table import number, target
from legwright.views.wide_sheet import ROOM, WideSheet

STAMPS = {
    Verdict.PASS: "MEETS ITS TARGETS",
    Verdict.WARN: "MEETS ITS TARGETS",
    Verdict.FAIL: "MISSES TARGETS",
    Verdict.UNKNOWN: "NOT SCORED",
}
ROUTINE = ("lifted", "touched")
MOST_EVENTS = 120
LINE = 5.9
"""Height of a line of the scorecard [mm]."""
SIZES = 4.0, 3.4, 2.8, 2.2
"""Of the sentence on the first sheet; the largest that holds it is taken [mm]."""


def walk_sheets(run: Run, card: Scorecard | None, notes: Sequence[str]) -> tuple[WideSheet, ...]:
    """All sheets of a recorded walk.

    Args:
        run: The run.
        card: Its scorecard; None where it cannot be scored.
        notes: What a reader must know: what is missing, what was assumed.

    Returns:
        The sheets, in order.
    """
    told = tuple(notes)
    made = [
        ("scorecard", "scorecard and way", card_drawing(run, card)),
        ("feet", "feet on the ground", feet_drawing(run)),
        ("force", "force on each foot", force_drawing(run)),
        ("power", "current, voltage, heat", power_drawing(run)),
        ("body", "balance, height, tilt, way", body_drawing(run)),
    ]
    sheets = [WideSheet(name=n, subtitle=s, drawing=d, notes=told) for n, s, d in made]
    return (*sheets, *_event_sheets(run, told))


def card_drawing(run: Run, card: Scorecard | None) -> Drawing:
    """The verdict in a stamp, the sentence, the scorecard, and the way in plan."""
    width, height = ROOM
    ink = Ink(width, height, about="Verdict, scorecard and way of the walk")
    verdict = Verdict.UNKNOWN if card is None else card.verdict
    _stamp(ink, verdict, "" if card is None else card.count)
    words = _sentence(run, card)
    fits = (size for size in SIZES if len(wrap(words, size, 96.0, Face.TEXT)) * size <= 20.4)
    size = next(fits, SIZES[-1])
    for row, line in enumerate(wrap(words, size, 96.0, Face.TEXT)):
        ink.text(78.0, 9.5 + row * 1.25 * size, line, size=size, face=Face.TEXT)
    ink.line(0.0, 32.0, 180.0, 32.0)
    ink.line(180.0, 0.0, 180.0, height)
    if card is not None:
        _card(ink, card)
    ink.text(184.0, 5.2, "Way in plan", size=tokens.SMALL, face=Face.LETTER_STRONG)
    path_plot(ink, run, left=184.0, top=8.0, right=width - 4.0, bottom=height - 3.0)
    return ink.finish()


def _stamp(ink: Ink, verdict: Verdict, count: str) -> None:
    colour = "red" if verdict is Verdict.FAIL else "ink"
    ink.rect(4.35, 4.35, 68.0, 23.0, stroke=colour, weight=0.7)
    ink.rect(5.6, 5.6, 65.5, 20.5, stroke=colour, weight=tokens.FINE)
    limit_mark(ink, 9.0, 11.0, 9.0, verdict)
    words = STAMPS[verdict].split(" ")
    lines = [" ".join(words[:-1]), words[-1]]
    for row, line in enumerate(lines):
        ink.text(28.0, 12.6 + row * 6.4, line, size=6.6, face=Face.LETTER_STRONG, colour=colour)
    ink.text(28.0, 24.4, count, size=3.0, colour=colour)


def _sentence(run: Run, card: Scorecard | None) -> str:
    about = run.recording.about
    gait, ground = about.get("gait") or "a walk", str(about.get("ground") or "")
    where = f" on {ground.partition(':')[0]}" if ground else ""
    who = f"{run.robot}, {gait}{where}"
    if card is None:
        return f"{who}: without truth a walk is shown as it was felt, not scored."
    told = card.headline[:1].upper() + card.headline[1:]
    return f"{who}. {told} {_missed(card)}"


def _missed(card: Scorecard) -> str:
    missed = [f.name for f in card.findings if f.verdict is Verdict.FAIL]
    if not missed:
        return ""
    more = f" and {len(missed) - 3} more" if len(missed) > 3 else ""
    return f"It misses: {'; '.join(missed[:3])}{more}."


def _card(ink: Ink, card: Scorecard) -> None:
    blind = any(line.blind is not None for line in card.lines)
    worst = any(line.worst is not None for line in card.lines)
    heads = [(88.0, "felt", True), (104.0, "worst", worst), (120.0, "blind", blind)]
    y = 37.2
    for x, word, shown in heads:
        if shown:
            ink.text(x, y, word, face=Face.LETTER, colour="ink2", anchor="end", size=2.9)
    ink.text(144.0, y, "target", face=Face.LETTER, colour="ink2", anchor="end", size=2.9)
    ink.line(4.0, y + 1.8, 176.0, y + 1.8)
    step = min(LINE, (ink.height - y - 4.0) / max(len(card.lines), 1))
    for row, line in enumerate(card.lines):
        _card_line(ink, line, y + 0.75 * step + 1.2 + row * step, worst=worst, blind=blind)


def _card_line(ink: Ink, line: Line, y: float, *, worst: bool, blind: bool) -> None:
    found: Finding | None = line.finding
    red = found is not None and found.verdict is Verdict.FAIL
    ink.text(4.0, y, line.measure.words, size=3.2, face=Face.LETTER)
    colour = "red" if red else "ink"
    ink.text(
        88.0, y, number(line, line.felt), size=3.6, face=Face.LETTER_STRONG, anchor="end",
        colour=colour,
    )  # fmt: skip
    for x, value, shown in ((104.0, line.worst, worst), (120.0, line.blind, blind)):
        if shown:
            ink.text(x, y, number(line, value), size=3.2, face=Face.LETTER, anchor="end")
    ink.text(70.0, y, line.measure.unit, size=2.6, face=Face.LETTER, colour="ink2", anchor="end")
    if found is None:
        return
    ink.text(144.0, y, target(line), size=3.2, face=Face.LETTER, anchor="end")
    limit_mark(ink, 149.0, y - 2.5, 2.6, found.verdict)
    word = "missed" if red else "met"
    ink.text(155.0, y, word, size=3.0, face=Face.LETTER, colour=colour)


def _event_sheets(run: Run, notes: tuple[str, ...]) -> tuple[WideSheet, ...]:
    told = [event for event in run.events if event.what not in ROUTINE]
    count = {word: sum(e.what == word for e in run.events) for word in ROUTINE}
    shown = told[:MOST_EVENTS]
    more = f"{len(told)} beside {count['lifted']} lift-offs and {count['touched']} touch-downs"
    if len(told) > len(shown):
        more += f"; the first {len(shown)} are listed"
    if not shown:
        return ()
    sheets = table_sheets(
        Table(
            name="events", heading="Events", more=more,
            columns=(
                Column(name="time, s", width=16.0, right=True), Column(name="what", width=20.0),
                Column(name="leg", width=24.0), Column(name="in words", width=68.0),
            ),
            rows=tuple((f"{e.time:.2f}", e.what, e.leg, e.text) for e in shown),
            abreast=2,
        )
    )  # fmt: skip
    return tuple(
        WideSheet(name=s.name, subtitle=s.subtitle, drawing=s.drawing, notes=notes) for s in sheets
    )
