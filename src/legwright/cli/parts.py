"""The command `legwright parts`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.exits import Exit
from legwright.cli.results import leave_documents, leave_json
from legwright.study.making import making_as_json, making_of
from legwright.views.parts_table import parts_table


def run_parts(path: Path, *, out: Path | None, json_file: Path | None) -> int:
    """Lay out plates and brackets, judge them, print a table, write what was asked for.

    Args:
        path: Robot folder, sheet or bare URDF.
        out: Folder for drawings and cutting files, or None.
        json_file: Where to write the results, or None.

    Returns:
        Exit code.
    """
    console = Console(highlight=False)
    making = making_of(legwright.load(path))
    console.print(parts_table(making))
    leave_json(json_file, lambda: making_as_json(making))

    def documents(folder: Path) -> Sequence[Path]:
        from legwright.views.parts_files import write_parts

        return write_parts(making, folder, issued=date.today())

    leave_documents(console, out, documents)
    return int(Exit.FAIL if making.failed else Exit.PASS)
