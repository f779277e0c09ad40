"""The command `legwright round`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import bar, unwritable
from legwright.cli.exits import Exit
from legwright.cli.results import leave_json
from legwright.errors import RequestError
from legwright.study.rounding import Wish, rounding_of, written
from legwright.study.rounding_export import rounding_as_json
from legwright.units import to_si
from legwright.views.rounding_table import rounding_table


def run_round(
    path: Path,
    *,
    grid: str | None,
    angle: str | None,
    spread: int | None,
    top: int,
    pins: Sequence[str],
    out: Path | None,
    json_file: Path | None,
) -> int:
    """Find round layouts, print them, write what was asked for.

    Args:
        path: Robot folder, sheet or bare URDF.
        grid: Grid of lengths; the sheet's when None.
        angle: Grid of angles; the sheet's when None.
        spread: Values on either side of today's; the sheet's when None.
        top: Length of the shortlist.
        pins: ``KEY`` or ``KEY=VALUE``.
        out: Folder of the new robot, or None.
        json_file: Where to write the ranked layouts, or None.

    Returns:
        Exit code.
    """
    console = Console(highlight=False)
    if top < 1:
        raise RequestError("top", top, "1 or more")
    wish = Wish(grid=grid, angle=angle, spread=spread, pins=pins_of(pins), top=top)
    robot = legwright.load(path)
    with bar() as progress:
        rounding = rounding_of(robot, wish, progress)
    console.print(rounding_table(rounding))
    leave_json(json_file, lambda: rounding_as_json(rounding))
    if out is not None and rounding.shortlist:
        from legwright.views.rounding_drawing import write_layout

        new = written(rounding, rounding.shortlist[0], out)
        try:
            files = write_layout(rounding, rounding.shortlist[0], new, out, issued=date.today())
        except OSError as error:
            raise unwritable(out, error) from None
        names = ", ".join(file.name for file in files)
        console.print(f"Drawing: {names}", soft_wrap=True)
        console.print(f"New robot: {out}. Next: legwright check {out}", soft_wrap=True)
        for note in new.notes:
            console.print(note, soft_wrap=True)
    return int(Exit.PASS if rounding.shortlist else Exit.FAIL)


def pins_of(words: Sequence[str]) -> dict[str, float | None]:
    """Dimensions to hold, by name; with a value or at today's.

    Args:
        words: ``femur`` or ``femur=85mm`` each.

    Raises:
        RequestError: where a value cannot be read.
    """
    pins: dict[str, float | None] = {}
    for word in words:
        key, given, text = word.partition("=")
        pins[key.strip()] = _value(key.strip(), text) if given else None
    return pins


def _value(key: str, text: str) -> float:
    example = "45 deg" if key.startswith("hip_angle") else "85 mm"
    try:
        return to_si(text, example)
    except ValueError as error:
        raise RequestError(f"pin {key}", text, f"a value; it {error}") from None
