"""The command `legwright parts`."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import unwritable, write_text
from legwright.cli.exits import Exit
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
    if json_file is not None:
        text = json.dumps(making_as_json(making), indent=1, ensure_ascii=False, allow_nan=False)
        write_text(json_file, text)
    if out is not None:
        from legwright.views.parts_files import write_parts

        try:
            files = write_parts(making, out, issued=date.today())
        except OSError as error:
            raise unwritable(out, error) from None
        names = ", ".join(file.name for file in files)
        console.print(f"Written to {out}: {names}", soft_wrap=True)
    return int(Exit.FAIL if making.failed else Exit.PASS)
