"""The command `legwright wiring`."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import bar, unwritable, write_text
from legwright.cli.exits import Exit
from legwright.study.wiring import wiring_as_json, wiring_of
from legwright.views.wiring_table import wiring_table


def run_wiring(path: Path, *, choosing: bool, out: Path | None, json_file: Path | None) -> int:
    """Study the wiring, print a table, write what was asked for.

    Args:
        path: Robot folder or sheet.
        choosing: Whether wires, hub copper and fuses are chosen anew.
        out: Folder for drawings and lists, or None.
        json_file: Where to write the results, or None.

    Returns:
        Exit code.
    """
    console = Console(highlight=False)
    robot = legwright.load(path)
    with bar() as progress:
        wiring = wiring_of(robot, choosing=choosing, progress=progress)
    console.print(wiring_table(wiring))
    if json_file is not None:
        text = json.dumps(wiring_as_json(wiring), indent=1, ensure_ascii=False, allow_nan=False)
        write_text(json_file, text)
    if out is not None:
        from legwright.views.wiring_files import write_wiring

        try:
            files = write_wiring(wiring, out, issued=date.today())
        except OSError as error:
            raise unwritable(out, error) from None
        names = ", ".join(file.name for file in files)
        console.print(f"Written to {out}: {names}", soft_wrap=True)
    return int(Exit.FAIL if wiring.failed else Exit.PASS)
