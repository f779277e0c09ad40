"""The command `legwright shells`."""

from __future__ import annotations

import json
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import unwritable, write_text
from legwright.cli.exits import Exit
from legwright.errors import RobotError
from legwright.fabrication.stl import stl_bytes
from legwright.study.checks.shells import shell_findings
from legwright.study.export import finding_as_json
from legwright.study.finding import Verdict
from legwright.study.shells import shells_as_json, shells_of
from legwright.views.shells_table import shells_table


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
        raise RobotError(
            robot.source,
            "shell",
            "is missing: the sheet describes no shell",
            'Write [shell.hood] with generate = "hood", or name a mesh file.',
        )
    shells = shells_of(robot)
    for error in shells.unusable.values():
        raise error
    findings = tuple(shell_findings(robot))
    console.print(shells_table(robot, shells, findings))
    if json_file is not None:
        data = {"robot": robot.name, **shells_as_json(shells)}
        data["findings"] = [finding_as_json(finding) for finding in findings]
        write_text(json_file, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False))
    if out is not None or generate:
        folder = out or Path()
        try:
            folder.mkdir(parents=True, exist_ok=True)
            written = []
            for one in shells.studied:
                if generate and one.shell.path is None:
                    file = folder / f"{robot.name}-{one.shell.name}.stl"
                    file.write_bytes(stl_bytes(one.shell.mesh))
                    written.append(file)
        except OSError as error:
            raise unwritable(folder, error) from None
        names = ", ".join(str(file) for file in written)
        console.print(f"Written: {names or 'nothing'}", soft_wrap=True)
    failed = any(finding.verdict is Verdict.FAIL for finding in findings)
    return int(Exit.FAIL if failed else Exit.PASS)
