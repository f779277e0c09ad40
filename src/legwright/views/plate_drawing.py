"""Drawings of the body plates."""

from __future__ import annotations

from legwright.fabrication.openings import Purpose
from legwright.fabrication.plate import Plate
from legwright.robot.sheet_making import Making
from legwright.views import tokens
from legwright.views.dimensioning import across, along, millimetres
from legwright.views.flat_part import Flat, flat_part, laid, openings_table
from legwright.views.ink import Ink
from legwright.views.lettering import Face
from legwright.views.numbers import plain
from legwright.views.symbols import centre_of_mass, title
from legwright.views.wide_sheet import ROOM, WideSheet

WIDTH, HEIGHT = ROOM
PLAN = (22.0, 13.0, 172.0, HEIGHT - 14.0)
"""Room of the plan without dimensions: left, top, right, bottom [mm]."""
TABLE = 180.0
CAUTION = "Laser, press and drill: by those trained on them. Edges are sharp until broken."


def plate_sheets(plates: tuple[Plate, ...], making: Making) -> tuple[WideSheet, ...]:
    """One sheet for each plate.

    Args:
        plates: The plates.
        making: How they are made.
    """
    return tuple(_sheet(plate, making) for plate in plates)


def _sheet(plate: Plate, making: Making) -> WideSheet:
    words = plate.name.replace("-", " ")
    ink = Ink(WIDTH, HEIGHT, about=f"Drawing of the {words}")
    flat = laid(plate, PLAN)
    title(
        ink, words.capitalize(), f"{flat.words}, seen from above; one of it, {_weight(plate.mass)}"
    )
    left, bottom, right, top = plate.box
    (x0, y0), (x1, y1) = flat.at((left, bottom)), flat.at((right, top))
    for at in ("x", "y"):  # axes of symmetry and datum
        if at == "x":
            y = flat.at((0.0, 0.0))[1]
            ink.line(x0 - 3.0, y, x1 + 3.0, y, dash="centre", weight=tokens.FINE)
        else:
            x = flat.at((0.0, 0.0))[0]
            ink.line(x, y1 - 3.0, x, y0 + 3.0, dash="centre", weight=tokens.FINE)
    flat_part(ink, flat, plate)
    across(ink, (x0, y0), (x1, y0), y0 + 9.0, millimetres(right - left))
    along(ink, (x0, y0), (x0, y1), x0 - 9.0, millimetres(top - bottom))
    _datum(ink, flat)
    centre_of_mass(ink, *flat.at(plate.com), 1.5)
    ink.line(TABLE - 5.0, 0.0, TABLE - 5.0, HEIGHT)
    openings_table(ink, plate, TABLE, 8.0, WIDTH - TABLE - 4.0)
    return WideSheet(
        name=plate.name, subtitle=words, drawing=ink.finish(), notes=_notes(plate, making)
    )


def _datum(ink: Ink, flat: Flat) -> None:
    """The body frame's origin, x forward, y left; in the plan's corner where nothing lies."""
    x, y = PLAN[0] - 16.0, HEIGHT - 5.0
    ink.arrow(x, y, x + 9.0, y)
    ink.arrow(x, y, x, y - 9.0)
    ink.text(x + 9.8, y + 0.9, "x", face=Face.LETTER, colour="ink2")
    ink.text(x + 1.2, y - 7.6, "y", face=Face.LETTER, colour="ink2")


def capital(words: str) -> str:
    """Words that begin a sentence."""
    return words[:1].upper() + words[1:]


def _weight(mass: float) -> str:
    return f"{plain(mass * 1e3, 1)}\u202fg"


def _notes(plate: Plate, making: Making) -> tuple[str, ...]:
    x, y = plate.com
    grade = making.tolerance.general
    kerf = making.kerf
    seats = any(opening.purpose is Purpose.FIT for opening in plate.openings)
    return (
        f"{capital(plate.material) or 'Material not stated'}, {plate.thickness * 1e3:g} mm thick; "
        f"centre of mass at {millimetres(x)}, {millimetres(y)}.",
        (f"General tolerances ISO 2768-1, class {grade}" if grade else "Tolerances not stated")
        + f"; corners {millimetres(max(plate.outline.held))} where not smaller."
        + (" Seats H7 are reamed after cutting." if seats else ""),
        (f"DXF -cut follows the beam, {kerf * 1e3:g} mm wide. " if kerf else "") + CAUTION,
    )
