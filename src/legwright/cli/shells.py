"""The command `legwright shells`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import bar
from legwright.cli.exits import Exit
from legwright.cli.results import leave_documents, leave_json
from legwright.fabrication.stl import stl_bytes
from legwright.robot.sheet_faults import lacks
from legwright.study.check import study
from legwright.study.export import finding_as_json
from legwright.study.finding import Verdict
from legwright.study.shells import Shells, shells_as_json, shells_of
from legwright.views.shells_table import shells_table

AREAS = ("shell", "foot")


def run_shells(path: Path, *, generate: bool, out: Path | None, json_file: Path | None) -> int:
    """Look at a robot's shells, print a table, write what was asked for.

    Args:
        path: Robot folder or sheet.
        generate: Whether generated shells are written as STL.
        out: Folder for files, or None.
        json_file: Where to write the results, or None.

    Returns:
        Exit code.
    """
    console = Console(highlight=False)
    robot = legwright.load(path)
    if not robot.sheet.shell:
        raise lacks(
            robot.source,
            "shell",
            "is missing: the sheet describes no shell",
            'Write [shell.hood] with generate = "hood", or name a mesh file.',
        )
    shells = shells_of(robot)
    for error in shells.unusable.values():
        raise error
    with bar() as progress:
        found = study(robot, only=AREAS, progress=progress)
    console.print(shells_table(robot, shells, found.findings))
    failed = any(finding.verdict is Verdict.FAIL for finding in found.findings)
    results = {
        "robot": robot.name,
        "verdict": "fail" if failed else "pass",
        **shells_as_json(shells),
        "findings": [finding_as_json(finding) for finding in found.findings],
    }
    leave_json(json_file, lambda: results)

    def documents(folder: Path) -> Sequence[Path]:
        written = write_generated(shells, robot.name, folder) if generate else []
        if out is not None:
            from legwright.views.shell_files import write_shells

            written += write_shells(found, folder, issued=date.today())
        return written

    folder = out or (Path() if generate else None)
    leave_documents(console, folder, documents, nothing="nothing, for no shell is generated")
    return int(Exit.FAIL if failed else Exit.PASS)


def write_generated(shells: Shells, robot: str, folder: Path) -> list[Path]:
    """Write every generated shell as STL.

    Args:
        shells: The shells.
        robot: Name of the robot, for the files' names.
        folder: Where to; made when missing.

    Returns:
        The files.

    Raises:
        OSError: if they cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for one in shells.studied:
        if one.shell.path is None:
            file = folder / f"{robot}-{one.shell.name}.stl"
            file.write_bytes(stl_bytes(one.shell.mesh))
            written.append(file)
    return written
