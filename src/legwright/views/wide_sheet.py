"""A landscape A4 sheet: frame, zones, a drawing, notes beside the title block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from legwright.views import tokens
from legwright.views.frame import TitleBlock, title_block
from legwright.views.ink import Drawing, Ink
from legwright.views.lettering import Face, wrap

WIDTH, HEIGHT = 297.0, 210.0
LEFT, TOP, RIGHT, BOTTOM = 20.0, 10.0, 287.0, 200.0
"""The frame [mm]."""
BLOCK_LEFT, BLOCK_TOP = RIGHT - 180.0, BOTTOM - 29.0
"""Where the title block starts [mm]."""
ROOM = (RIGHT - LEFT, BLOCK_TOP - TOP)
"""Width and height of the drawing [mm]."""
ROWS = "ABCD"


@dataclass(frozen=True, slots=True, kw_only=True)
class WideSheet:
    """One landscape sheet."""

    name: str
    """Stem of its file: ``schematic-1``."""
    subtitle: str
    drawing: Drawing
    """As large as `ROOM`."""
    notes: tuple[str, ...] = ()
    """Numbered sentences at the bottom left."""


def wide_zone_of(x: float, y: float) -> str:
    """The zone of a point on a landscape sheet, ``B4`` [mm from the sheet's corner]."""
    column = int((x - WIDTH / 2) // tokens.ZONE_FIELD) + 4
    row = int((y - HEIGHT / 2) // tokens.ZONE_FIELD) + 2
    return f"{ROWS[min(max(row, 0), 3)]}{min(max(column, 1), 6)}"


def wide_frame() -> Drawing:
    """Trim line, zones on top and right, frame and centring marks, 297 × 210 mm."""
    ink = Ink(WIDTH, HEIGHT, about="Sheet frame")
    band, middle_x, middle_y = tokens.ZONE_BAND, WIDTH / 2, HEIGHT / 2
    ink.rect(LEFT - band, TOP - band, RIGHT - LEFT + 2 * band, BOTTOM - TOP + 2 * band)
    ink.rect(LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP, weight=tokens.FRAME)
    for k in (-2, -1, 1, 2):
        x = middle_x + k * tokens.ZONE_FIELD
        ink.line(x, TOP - band, x, TOP)
    for k in (-1, 1):
        y = middle_y + k * tokens.ZONE_FIELD
        ink.line(RIGHT, y, RIGHT + band, y)
    for number, x in enumerate((34.5, 73.5, 123.5, 173.5, 223.5, 268.0), start=1):
        ink.text(x, TOP - 1.5, str(number), face=Face.LETTER, colour="ink2", anchor="middle")
    for row, letter in enumerate(ROWS):
        y = min(max(middle_y + (row - 1.5) * tokens.ZONE_FIELD, 32.5), 177.5)
        ink.text(RIGHT + 2.5, y + 0.9, letter, face=Face.LETTER, colour="ink2", anchor="middle")
    for x0, y0, x1, y1 in (
        (middle_x, TOP - band, middle_x, TOP + 1.5),
        (middle_x, BOTTOM - 1.5, middle_x, BOTTOM + band),
        (LEFT - band, middle_y, LEFT + 1.5, middle_y),
        (RIGHT - 1.5, middle_y, RIGHT + band, middle_y),
    ):
        ink.line(x0, y0, x1, y1, weight=tokens.FRAME)
    return ink.finish()


def notes_drawing(notes: Sequence[str]) -> Drawing:
    """Numbered notes, 87 × 29 mm; what does not fit is left out from the end."""
    ink = Ink(BLOCK_LEFT - LEFT, BOTTOM - BLOCK_TOP, about="Notes")
    size = 2.7
    y = 4.2
    for number, note in enumerate(notes, start=1):
        lines = wrap(note, size, ink.width - 13.0, Face.TEXT)
        if y + (len(lines) - 1) * size * tokens.LEADING > ink.height - 1.0:
            break
        ink.text(4.0, y, str(number), size=size, face=Face.TEXT)
        for line in lines:
            ink.text(8.0, y, line, size=size, face=Face.TEXT)
            y += size * tokens.LEADING
    return ink.finish()


def placed(
    sheet: WideSheet, block: TitleBlock, *, number: int, count: int
) -> tuple[tuple[float, float, Drawing], ...]:
    """All drawings of a sheet with the places of their corners [mm].

    Args:
        sheet: The sheet.
        block: What the title block says.
        number: Of the sheet.
        count: Of sheets.

    Returns:
        (x, y, drawing), frame first.
    """
    title = title_block(block, subtitle=sheet.subtitle, sheet=number, sheets=count)
    return (
        (0.0, 0.0, wide_frame()),
        (LEFT, TOP, sheet.drawing),
        (LEFT, BLOCK_TOP, notes_drawing(sheet.notes)),
        (BLOCK_LEFT, BLOCK_TOP, title),
    )
