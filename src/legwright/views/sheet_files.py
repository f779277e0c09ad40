"""Landscape sheets as files: each as an SVG of its own, and all in one HTML page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape, unescape
from importlib.resources import files
from pathlib import Path

from legwright.views import tokens
from legwright.views.fonts import font_face_rules
from legwright.views.frame import TitleBlock
from legwright.views.report import themed
from legwright.views.sheet_section import section
from legwright.views.wide_sheet import HEIGHT, WIDTH, WideSheet, placed


def sheet_svg(
    sheet: WideSheet,
    block: TitleBlock,
    *,
    number: int,
    count: int,
    font_cache: Path | None = None,
) -> str:
    """One sheet as an SVG file that needs nothing else, 297 × 210 mm.

    Args:
        sheet: The sheet.
        block: What the title block says.
        number: Of the sheet.
        count: Of sheets.
        font_cache: Folder for finished font subsets; the user's cache folder when None.

    Returns:
        SVG text.
    """
    parts = []
    for x, y, drawing in placed(sheet, block, number=number, count=count):
        at = f'<svg x="{x:g}" y="{y:g}" width="{drawing.width:g}" height="{drawing.height:g}" '
        parts.append(drawing.svg.replace("<svg ", at, 1))
    body = "".join(parts)
    css = font_face_rules(_words(body), cache=font_cache) + _plain_style()
    title = escape(f"{block.title}: {sheet.subtitle}")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{HEIGHT:g}mm" '
        f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}"><title>{title}</title>'
        f'<style>{escape(css, quote=False)}</style><rect class="f-sheet" width="100%" '
        f'height="100%"/>{body}</svg>\n'
    )


def sheets_html(
    sheets: Sequence[WideSheet], block: TitleBlock, *, heading: str, font_cache: Path | None = None
) -> str:
    """All sheets as one HTML page without outside address or script.

    Args:
        sheets: The sheets.
        block: What the title blocks say.
        heading: Title of the page.
        font_cache: As `sheet_svg`.

    Returns:
        HTML.
    """
    body = "".join(
        section(sheet, block, number=number, count=len(sheets))
        for number, sheet in enumerate(sheets, start=1)
    )
    style = (files("legwright.views") / "templates" / "sheet.css").read_text("utf-8")
    css = font_face_rules(_words(body), cache=font_cache) + themed(style)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{escape(heading)}</title>\n<style>{css}</style>\n</head>\n<body>\n"
        f'<h1 class="away">{escape(heading)}</h1>\n{body}</body>\n</html>\n'
    )


def _words(body: str) -> str:
    return unescape(re.sub(r"<[^>]*>", " ", body))


def class_rules() -> str:
    """The rules of the classes that drawings use: fills, strokes, faces; colours as variables."""
    style = (files("legwright.views") / "templates" / "sheet.css").read_text("utf-8")
    kept = [
        line
        for line in style.splitlines()
        if line.startswith((".ink ", ".f-none", ".s-none", ".r{"))
    ]
    filled = "\n".join(kept).replace("/*lettering*/", tokens.LETTERING_STACK)
    return filled.replace("/*text*/", tokens.TEXT_STACK)


def _plain_style() -> str:
    """Colours and lettering of the sheets on white ground."""
    colours = tokens.css_variables(tokens.LIGHT)
    return f":root{{{colours}--on-yellow:{tokens.ON_YELLOW};--sheet:#FFFFFF}}{class_rules()}"
