"""The command `legwright pack`."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import bar
from legwright.cli.exits import Exit
from legwright.cli.results import leave_json
from legwright.study.packing import pack_as_json, pack_of


def run_pack(path: Path, *, out: Path | None, json_file: Path | None) -> int:
    """Work out the build book, write it, say in a few lines what it holds.

    Args:
        path: Robot folder, sheet or bare URDF.
        out: Folder to write; ``build/NAME`` when None.
        json_file: Where to write the results, or None.

    Returns:
        Exit code.
    """
    from legwright.views.pack_files import PAGE, write_pack

    console = Console(highlight=False)
    robot = legwright.load(path)
    with bar() as progress:
        pack = pack_of(robot, progress=progress)
    folder = out or Path("build") / robot.name
    files = write_pack(pack, folder, issued=date.today())
    leave_json(json_file, lambda: pack_as_json(pack))
    steps = sum(len(bench.tasks) for bench in pack.benches)
    screws = sum(one.count for one in pack.fastenings)
    console.print(
        f"{robot.name}: {len(pack.bill)} lines of the bill, {pack.listed_mass:.3f} kg; "
        f"{screws} screws; {steps} steps of assembly.",
        soft_wrap=True,
    )
    for note in pack.notes:
        console.print(f"  {note}", soft_wrap=True, markup=False)
    console.print(f"Build book: {folder / PAGE}, {len(files)} files", soft_wrap=True)
    return int(Exit.FAIL if pack.failed else Exit.PASS)
