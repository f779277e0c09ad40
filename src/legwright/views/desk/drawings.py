"""The drawings of the robot on the desk, as SVG whose parts can be lit and asked about."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from html import escape, unescape

from legwright.electrics.readings import idle_readings, worst_readings
from legwright.errors import LegwrightError
from legwright.views import tokens
from legwright.views.desk.said import Drawing, Drawings
from legwright.views.desk.shown import Shown
from legwright.views.fonts import font_face_rules
from legwright.views.sheet_files import class_rules
from legwright.views.wide_sheet import ROOM, WideSheet

THEMES: Mapping[str, tokens.Theme] = {"light": tokens.LIGHT, "dark": tokens.DARK}
ELECTRICS, FABRICATION = "electrics", "fabrication"
BARE = "bare"
"""Theme of an SVG without a style of its own, for pages that carry the sheets' style."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A drawing that can be made."""

    name: str
    title: str
    group: str
    """Room that it comes from."""
    make: Callable[[], Iterable[WideSheet]]
    """Makes the drawings of its set, this one among them."""


Source = Callable[[Shown], Iterator[Listed]]
"""What one room can draw."""


def listed(shown: Shown, sources: Iterable[Source] | None = None) -> dict[str, Listed]:
    """All drawings that can be made of a robot, by name.

    Args:
        shown: The walk whose readings they show.
        sources: Whose drawings; `QUICK` and `SLOW` when None.
    """
    found: dict[str, Listed] = {}
    for source in (*QUICK, *SLOW) if sources is None else sources:
        with suppress(LegwrightError):  # what is in the way is a finding
            found |= {one.name: one for one in source(shown)}
    return found


def _schematic(shown: Shown) -> Iterator[Listed]:
    """Schematic with ladder."""
    from legwright.views.schematic import schematic, schematic_names

    circuit = shown.circuit
    if circuit is None:
        return

    def make() -> Iterable[WideSheet]:
        found = None if shown.supply is None else worst_readings({shown.case.name: shown.supply})
        return schematic(shown.robot, circuit, found or idle_readings(circuit, shown.robot))

    for name in schematic_names(circuit):
        yield Listed(name=name, title="power, battery to last servo", group=ELECTRICS, make=make)


def _harness(shown: Shown) -> Iterator[Listed]:
    """Harness layout over the robot's plan."""
    from legwright.views.harness_drawing import harness_drawing, harness_names

    circuit = shown.circuit
    if circuit is None:
        return
    for name in harness_names(circuit):
        yield Listed(
            name=name, title="harness layout", group=ELECTRICS,
            make=lambda: harness_drawing(shown.robot, circuit),
        )  # fmt: skip


def _assembly(shown: Shown) -> Iterator[Listed]:
    """Steps of the assembly, six to a sheet."""
    from legwright.fabrication.assembly_order import assembly_order
    from legwright.fabrication.pieces import pieces_of
    from legwright.fabrication.steps import benches
    from legwright.views.assembly_sheets import assembly_sheets

    pieces = pieces_of(shown.robot)
    steps = benches(pieces, assembly_order(pieces))
    sheets = assembly_sheets(steps)
    for sheet in sheets:
        yield Listed(name=sheet.name, title=sheet.subtitle, group=FABRICATION, make=lambda: sheets)


def _making(shown: Shown) -> Iterator[Listed]:
    """Layout, plates, bracket, foot, tolerances."""
    from legwright.study.making import making_of
    from legwright.views.making_sheets import making_sheets

    sheets = making_sheets(making_of(shown.robot, shown.footing, {shown.case.name: shown.case}))
    for sheet in sheets:
        yield Listed(name=sheet.name, title=sheet.subtitle, group=FABRICATION, make=lambda: sheets)


def _shells(shown: Shown) -> Iterator[Listed]:
    """Shapes of the shells."""
    from legwright.views.shell_sheets import shape_sheets

    sheets = shape_sheets(shown.robot)
    for sheet in sheets:
        yield Listed(name=sheet.name, title=sheet.subtitle, group=FABRICATION, make=lambda: sheets)


QUICK: tuple[Source, ...] = (_schematic, _harness)
"""What can be listed without being made."""
SLOW: tuple[Source, ...] = (_making, _shells, _assembly)
"""What takes a second or so."""


def drawings_of(found: Mapping[str, Listed], *, rev: int, missing: str) -> Drawings:
    """What there is to be drawn, as a message.

    Args:
        found: The drawings by name.
        rev: Revision of the robot.
        missing: What to enter in the sheet where there are none.
    """
    return Drawings(
        rev=rev,
        list=tuple(
            Drawing(name=one.name, title=one.title, group=one.group, width=ROOM[0], height=ROOM[1])
            for one in found.values()
        ),
        missing="" if any(one.group == ELECTRICS for one in found.values()) else missing,
    )


def svg_of(sheet: WideSheet, theme: str) -> str:
    """A drawing as an SVG file.

    Args:
        sheet: The drawing.
        theme: ``light`` or ``dark``; ``bare`` for one without a style of its own.
    """
    body, drawing = sheet.drawing.svg, sheet.drawing
    if theme == BARE or theme not in THEMES:
        return _larger(body).replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    colours = tokens.css_variables(THEMES[theme])
    words = unescape(re.sub(r"<[^>]*>", " ", body))
    css = f"svg{{{colours}--on-yellow:{tokens.ON_YELLOW}}}" + class_rules() + font_face_rules(words)
    open_tag = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{drawing.width:g}mm" '
        f'height="{drawing.height:g}mm" '
    )
    style = (
        f"<title>{escape(sheet.subtitle)}</title><style>{escape(css, quote=False)}</style>"
        '<rect class="f-sheet" width="100%" height="100%"/>'
    )
    head, _, rest = body.replace("<svg ", open_tag, 1).partition(">")
    return f"{head}>{style}{rest}\n"


_LEAST = re.compile(rf' y="([^"]+)"( class="[^"]+") font-size="{tokens.TINY:g}"')


def _larger(body: str) -> str:
    """Smallest letters larger, about the middle of their height: a screen is coarser than paper."""
    size = tokens.TINY * tokens.ON_SCREEN
    lower = tokens.CAP_OVER_EM * (size - tokens.TINY) / 2.0
    return _LEAST.sub(
        lambda text: f' y="{float(text[1]) + lower:.2f}"{text[2]} font-size="{size:.3g}"', body
    )
