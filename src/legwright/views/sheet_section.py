"""A landscape sheet as a section of an HTML page that carries the sheets' style."""

from __future__ import annotations

from html import escape

from legwright.views.frame import TitleBlock
from legwright.views.wide_sheet import WideSheet, placed


def section(sheet: WideSheet, block: TitleBlock, *, number: int, count: int) -> str:
    """One sheet as a section of a page that carries the sheets' style.

    Args:
        sheet: The sheet.
        block: What the title block says.
        number: Of the sheet.
        count: Of sheets.

    Returns:
        HTML.
    """
    cells = []
    for x, y, drawing in placed(sheet, block, number=number, count=count):
        spans = (("left", x), ("top", y), ("width", drawing.width), ("height", drawing.height))
        place = ";".join(f"{name}:calc(var(--mm)*{value:.2f})" for name, value in spans)
        cells.append(f'<div class="block" style="{place}">{drawing.svg}</div>')
    label = escape(f"Sheet {number}: {sheet.subtitle}", quote=True)
    return f'<section class="sheet wide" aria-label="{label}">{"".join(cells)}</section>\n'
