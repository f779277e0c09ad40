"""The drawings of the robot on the desk, as SVG whose parts can be lit and asked about."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from html import escape, unescape

from legwright.electrics.readings import idle_readings, worst_readings
from legwright.errors import LegwrightError
from legwright.views import ink, tokens
from legwright.views.desk.said import Drawing, Drawings
from legwright.views.desk.shown import Shown
from legwright.views.fonts import font_face_rules
from legwright.views.sheet_files import class_rules

THEMES: Mapping[str, tokens.Theme] = {"light": tokens.LIGHT, "dark": tokens.DARK}
BARE = "bare"
"""Theme of an SVG without a style of its own, for pages that carry the sheets' style."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One drawing."""

    name: str
    title: str
    group: str
    drawing: ink.Drawing


Source = Callable[[Shown], Iterator[Sheet]]
"""Makes the drawings of one room."""


def electric(shown: Shown) -> Iterator[Sheet]:
    """Schematic with ladder, and harness layout."""
    from legwright.views.harness_drawing import harness_drawing
    from legwright.views.schematic import schematic

    circuit, robot = shown.circuit, shown.robot
    if circuit is None:
        return
    found = None if shown.supply is None else worst_readings({shown.case.name: shown.supply})
    readings = found or idle_readings(circuit, robot)
    for sheet in (*schematic(robot, circuit, readings), *harness_drawing(robot, circuit)):
        yield Sheet(name=sheet.name, title=sheet.subtitle, group="electrics", drawing=sheet.drawing)


SOURCES: tuple[Source, ...] = (electric,)


def sheets_of(shown: Shown) -> dict[str, Sheet]:
    """All drawings of a robot by name; those that cannot be made are left out.

    Args:
        shown: The walk whose readings they show.
    """
    found: dict[str, Sheet] = {}
    for source in SOURCES:
        try:
            found |= {sheet.name: sheet for sheet in source(shown)}
        except LegwrightError:
            continue  # what is in the way is a finding
    return found


def drawings_of(sheets: Mapping[str, Sheet], *, rev: int, missing: str) -> Drawings:
    """What there is to be drawn, as a message.

    Args:
        sheets: The drawings by name.
        rev: Revision of the robot.
        missing: What to enter in the sheet where there are none.
    """
    return Drawings(
        rev=rev,
        list=tuple(
            Drawing(
                name=sheet.name,
                title=sheet.title,
                group=sheet.group,
                width=sheet.drawing.width,
                height=sheet.drawing.height,
            )
            for sheet in sheets.values()
        ),
        missing="" if sheets else missing,
    )


def svg_of(sheet: Sheet, theme: str) -> str:
    """A drawing as an SVG file.

    Args:
        sheet: The drawing.
        theme: ``light`` or ``dark``; ``bare`` for one without a style of its own.
    """
    body, drawing = sheet.drawing.svg, sheet.drawing
    if theme == BARE or theme not in THEMES:
        return body.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    colours = tokens.css_variables(THEMES[theme])
    words = unescape(re.sub(r"<[^>]*>", " ", body))
    css = f"svg{{{colours}--on-yellow:{tokens.ON_YELLOW}}}" + class_rules() + font_face_rules(words)
    open_tag = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{drawing.width:g}mm" '
        f'height="{drawing.height:g}mm" '
    )
    style = (
        f"<title>{escape(sheet.title)}</title><style>{escape(css, quote=False)}</style>"
        '<rect class="f-sheet" width="100%" height="100%"/>'
    )
    head, _, rest = body.replace("<svg ", open_tag, 1).partition(">")
    return f"{head}>{style}{rest}\n"
