"""What every sheet carries: frame, zones, title block; and the stamp and marks of the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from legwright.study.finding import Finding, Verdict
from legwright.views import tokens
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face, width
from legwright.views.ranking import Stamp, area_title, by_area
from legwright.views.symbols import limit_mark

ROWS = "ABCDEF"


@dataclass(frozen=True, slots=True, kw_only=True)
class TitleBlock:
    """What the title block says on every sheet."""

    title: str
    owner: str = ""
    identification: str = ""
    revision: str = ""
    issued: str = ""
    """Date as text; empty when not stated."""
    made_from: tuple[str, ...] = ()
    """``rook.urdf 8f3a·21c9`` of each input file."""
    made_by: str = "legwright"
    reference: str = "mechanics"
    """Who can answer for it."""
    document: str = "Check report"
    """Kind of document."""


def zone_of(x: float, y: float) -> str:
    """The zone of a point on a sheet, ``C3``; fields of 50 mm from the sheet's middle.

    Args:
        x: From the sheet's left edge [mm].
        y: From its top edge [mm].

    Returns:
        Row letter and column number.
    """
    column = int((x - tokens.SHEET_WIDTH / 2) // tokens.ZONE_FIELD) + 3
    row = int((y - tokens.SHEET_HEIGHT / 2) // tokens.ZONE_FIELD) + 3
    return f"{ROWS[min(max(row, 0), 5)]}{min(max(column, 1), 4)}"


def frame() -> Drawing:
    """Trim line, zones on top and right, frame and centring marks of an A4 sheet."""
    ink = Ink(tokens.SHEET_WIDTH, tokens.SHEET_HEIGHT, about="Sheet frame")
    left, top = tokens.FRAME_LEFT, tokens.FRAME_TOP
    right, bottom, band = tokens.FRAME_RIGHT, tokens.FRAME_BOTTOM, tokens.ZONE_BAND
    middle_x, middle_y = tokens.SHEET_WIDTH / 2, tokens.SHEET_HEIGHT / 2
    ink.rect(left - band, top - band, right - left + 2 * band, bottom - top + 2 * band)
    ink.rect(left, top, right - left, bottom - top, weight=tokens.FRAME)
    for x in (middle_x - tokens.ZONE_FIELD, middle_x + tokens.ZONE_FIELD):
        ink.line(x, top - band, x, top)
    for y in (middle_y + k * tokens.ZONE_FIELD for k in (-2, -1, 1, 2)):
        ink.line(right, y, right + band, y)
    for number, x in enumerate((left + 17.5, 80.0, 130.0, 177.5), start=1):
        ink.text(x, top - 1.5, str(number), face=Face.LETTER, colour="ink2", anchor="middle")
    for row, letter in enumerate(ROWS):
        y = middle_y + (row - 2.5) * tokens.ZONE_FIELD
        y = min(max(y, top + 19.0), bottom - 19.0)
        ink.text(right + 2.5, y + 0.9, letter, face=Face.LETTER, colour="ink2", anchor="middle")
    for x0, y0, x1, y1 in (
        (middle_x, top - band, middle_x, top + 1.5),
        (middle_x, bottom - 1.5, middle_x, bottom + band),
        (left - band, middle_y, left + 1.5, middle_y),
        (right - 1.5, middle_y, right + band, middle_y),
    ):
        ink.line(x0, y0, x1, y1, weight=tokens.FRAME)
    return ink.finish()


def title_block(block: TitleBlock, *, subtitle: str, sheet: int, sheets: int) -> Drawing:
    """The title block of one sheet, 180 × 29 mm.

    Args:
        block: What it says.
        subtitle: Name of this sheet.
        sheet: Its number.
        sheets: How many there are.

    Returns:
        The drawing.
    """
    ink = Ink(180.0, 29.0, about="Title block")
    ink.line(0.0, 0.0, 180.0, 0.0, weight=tokens.THICK)
    ink.line(0.0, 16.0, 180.0, 16.0)
    ink.line(0.0, 8.0, 89.0, 8.0)
    ink.line(132.0, 8.0, 180.0, 8.0)
    for x, y0, y1 in (
        (89.0, 0, 29),
        (132.0, 0, 29),
        (35.0, 0, 16),
        (61.0, 0, 16),
        (144.0, 8, 16),
        (166.0, 8, 16),
    ):
        ink.line(x, float(y0), x, float(y1))
    nothing = "not stated"
    _field(ink, (1.2, 0.0, 33.0), "Legal owner", block.owner or nothing)
    _field(ink, (36.2, 0.0, 24.0), "Technical reference", block.reference)
    _field(ink, (62.2, 0.0, 26.0), "Document type", block.document)
    _field(ink, (1.2, 8.0, 33.0), "Status", "issued, not approved")
    _field(ink, (36.2, 8.0, 24.0), "Created by", block.made_by)
    _field(ink, (62.2, 8.0, 26.0), "Approved by", "not signed", quiet=True)
    ink.text(90.4, 3.0, "Title, supplementary title", size=2.3, face=Face.LETTER, colour="ink2")
    ink.text(
        90.4,
        10.2,
        _cut(block.title, 6.2, 40.0, Face.LETTER_STRONG),
        size=6.2,
        face=Face.LETTER_STRONG,
    )
    ink.text(90.4, 14.4, _cut(subtitle, 2.9, 40.0), size=2.9)
    _field(
        ink,
        (133.2, 0.0, 45.0),
        "Identification number",
        block.identification or nothing,
        size=4.4 if block.identification else 3.0,
    )
    _field(ink, (133.2, 8.0, 10.0), "Rev.", block.revision or "–")
    _field(ink, (145.2, 8.0, 20.0), "Date of issue", block.issued or nothing)
    _field(ink, (167.2, 8.0, 12.0), "Sheet", f"{sheet} / {sheets}")
    ink.text(1.2, 19.0, "Made from", size=2.3, face=Face.LETTER, colour="ink2")
    for row, line in enumerate(_in_lines(block.made_from, 86.0)):
        ink.text(1.2, 23.2 + 4.0 * row, line, size=2.9, face=Face.LETTER)
    _key(ink)
    ink.text(133.2, 19.0, "Care", size=2.3, face=Face.LETTER, colour="ink2")
    ink.text(133.2, 23.2, "Advises; does not certify.", size=2.9)
    ink.text(
        133.2, 27.2, "en    A4    mm unless written", size=2.9, face=Face.LETTER, colour="ink2"
    )
    return ink.finish()


def _field(
    ink: Ink,
    box: tuple[float, float, float],
    name: str,
    words: str,
    *,
    size: float = 3.0,
    quiet: bool = False,
) -> None:
    x, y, room = box
    ink.text(
        x, y + 3.0, _cut(name, 2.3, room, Face.LETTER), size=2.3, face=Face.LETTER, colour="ink2"
    )
    face = Face.LETTER if quiet else Face.LETTER_MEDIUM
    ink.text(
        x,
        y + 6.9,
        _cut(words, size, room, face),
        size=size,
        face=face,
        colour="ink2" if quiet else "ink",
    )


def _key(ink: Ink) -> None:
    ink.text(90.4, 19.0, "How numbers are set", size=2.3, face=Face.LETTER, colour="ink2")
    ink.text(90.4, 23.2, "7.1 worked out", size=2.9)
    ink.text(111.0, 23.2, "(0.50) assumed", size=2.9)
    ink.text(90.4, 27.2, "rounded against the robot", size=2.9, face=Face.LETTER, colour="ink2")


def _cut(words: str, size: float, room: float, face: Face = Face.LETTER_MEDIUM) -> str:
    """Words shortened with an ellipsis until they fit."""
    clean = " ".join(words.split())
    if width(clean, size, face) <= room:
        return clean
    while clean and width(clean + "…", size, face) > room:
        clean = clean[:-1]
    return clean.rstrip() + "…"


def _in_lines(parts: Sequence[str], room: float) -> list[str]:
    if not parts:
        return ["files not stated"]
    first = ""
    for count in range(len(parts), 0, -1):
        first = "    ".join(parts[:count])
        if width(first, 2.9, Face.LETTER) <= room:
            rest = "    ".join(parts[count:])
            return [first] + ([_cut(rest, 2.9, room, Face.LETTER)] if rest else [])
    return [
        _cut(parts[0], 2.9, room, Face.LETTER),
        *([_cut("    ".join(parts[1:]), 2.9, room, Face.LETTER)] if parts[1:] else []),
    ]


def stamp(found: Stamp) -> Drawing:
    """The verdict of the whole check: a limit mark and words in a double-ruled stamp."""
    ink = Ink(86.0, 30.0, about=f"{found.words}: {found.count}")
    red = found.verdict is Verdict.FAIL
    colour = "red" if red else "ink"
    ink.rect(0.35, 0.35, 85.3, 29.3, stroke=colour, weight=0.7)
    ink.rect(1.6, 1.6, 82.8, 26.8, stroke=colour, weight=tokens.FINE)
    limit_mark(ink, 6.5, 9.2, 11.5, found.verdict)
    words = found.words.split(" ")
    lines = [found.words] if len(words) < 3 else [" ".join(words[:-2]), " ".join(words[-2:])]
    if len(lines) == 1 and width(lines[0], 9.0, Face.LETTER_STRONG) > 52.0:
        lines = [" ".join(words[:1]), " ".join(words[1:])]
    y = 11.6 if len(lines) == 2 else 15.5
    for row, line in enumerate(lines):
        ink.text(30.0, y + row * 8.9, line, size=9.0, face=Face.LETTER_STRONG, colour=colour)
    ink.text(30.0, 26.2, found.count, size=3.3, colour=colour)
    return ink.finish()


def marks_row(findings: Sequence[Finding], *, room: float) -> Drawing:
    """One limit mark for each finding that does not pass, and a count of passes, by area.

    Args:
        findings: All of them.
        room: Width [mm].

    Returns:
        The drawing; areas flow into as many lines as they need.
    """
    cells = [(area_title(area), members) for area, members in by_area(findings).items()]
    spans = [
        max(width(name, 2.9, Face.LETTER) + 4.0, _marks_width(members)) for name, members in cells
    ]
    lines: list[list[int]] = [[]]
    used = 0.0
    for index, span in enumerate(spans):
        if lines[-1] and used + span > room:
            lines.append([])
            used = 0.0
        lines[-1].append(index)
        used += span
    ink = Ink(room, 9.0 * len(lines) + 0.6, about="Findings by area")
    for row, members in enumerate(lines):
        spare = (room - sum(spans[i] for i in members)) / max(len(members), 1)
        x = 0.0
        for index in members:
            _cell(ink, x, 9.0 * row, *cells[index])
            x += spans[index] + min(spare, 9.0)
    return ink.finish()


_SHOWN = 6
_PITCH = 4.3


def _marks_width(findings: Sequence[Finding]) -> float:
    bad = sum(f.verdict is not Verdict.PASS for f in findings)
    return min(bad, _SHOWN) * _PITCH + (6.0 if bad > _SHOWN else 0.0) + 11.0


def _cell(ink: Ink, x: float, y: float, name: str, findings: Sequence[Finding]) -> None:
    ink.text(x, y + 3.0, name, size=2.9, face=Face.LETTER, colour="ink2")
    order = [Verdict.FAIL, Verdict.WARN, Verdict.UNKNOWN]
    bad = [v for v in order for f in findings if f.verdict is v]
    passes = len(findings) - len(bad)
    for verdict in bad[:_SHOWN]:
        limit_mark(ink, x, y + 5.0, 2.1, verdict)
        x += _PITCH
    if len(bad) > _SHOWN:
        label = ink.text(x, y + 6.9, f"+{len(bad) - _SHOWN}", size=tokens.TINY)
        x = label.right + 1.6
    if passes:
        limit_mark(ink, x, y + 5.0, 2.1, Verdict.PASS)
        ink.text(x + 3.0, y + 6.9, f"×{passes}", size=tokens.TINY, face=Face.LETTER)
