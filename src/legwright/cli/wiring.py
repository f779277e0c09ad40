"""The command `legwright wiring`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import bar
from legwright.cli.exits import Exit
from legwright.cli.results import leave_documents, leave_json
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
    leave_json(json_file, lambda: wiring_as_json(wiring))

    def documents(folder: Path) -> Sequence[Path]:
        from legwright.views.wiring_files import write_wiring

        return write_wiring(wiring, folder, issued=date.today())

    leave_documents(console, out, documents)
    return int(Exit.FAIL if wiring.failed else Exit.PASS)
