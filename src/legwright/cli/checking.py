"""The command `legwright check`."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

import legwright
from legwright.cli.exits import Exit
from legwright.errors import RobotError
from legwright.study.check import Progress as Report
from legwright.study.check import study
from legwright.study.export import as_json
from legwright.study.finding import Verdict
from legwright.study.kernels import ready
from legwright.views.terminal import verdict_table


def run_check(
    path: Path,
    *,
    json_file: Path | None,
    report: Path | None,
    only: Sequence[str] | None,
    all_rows: bool,
) -> int:
    """Check a robot, print the verdict, write what was asked for.

    Args:
        path: Robot folder, sheet or bare URDF.
        json_file: Where to write the findings, or None.
        report: Folder for the HTML report, or None.
        only: Areas to judge; all when None.
        all_rows: Whether to print every finding.

    Returns:
        Exit code.
    """
    console = Console(highlight=False)
    robot = legwright.load(path)
    with bar() as progress:
        ready(progress)
        found = study(robot, only=only, progress=progress, cores=os.cpu_count() or 1)
    console.print(verdict_table(found, all_rows=all_rows))
    if json_file is not None:
        text = json.dumps(as_json(found), indent=1, ensure_ascii=False, allow_nan=False)
        write_text(json_file, text)
    if report is not None:
        from legwright.views.report import write_report

        try:
            page = write_report(found, report, issued=date.today())
        except OSError as error:
            raise unwritable(report, error) from None
        console.print(f"Report: {page}", soft_wrap=True)
    failed = any(finding.verdict is Verdict.FAIL for finding in found.findings)
    return int(Exit.FAIL if failed else Exit.PASS)


@contextmanager
def bar() -> Iterator[Report]:
    """A progress bar on standard error, silent when that is no terminal."""
    console = Console(stderr=True)
    columns = (TextColumn("checking {task.description}"), BarColumn(bar_width=None))
    with Progress(
        *columns, console=console, transient=True, disable=not sys.stderr.isatty()
    ) as shown:
        task = shown.add_task("", total=None)

        def report(what: str, done: int, total: int) -> None:
            shown.update(
                task, description=f"{what}, {done} of {total}", completed=done, total=total
            )

        yield report


def write_text(file: Path, text: str) -> None:
    """Write text and a line end, making the folder when missing.

    Raises:
        RobotError: where it cannot be written.
    """
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        raise unwritable(file, error) from None


def unwritable(file: Path, error: OSError) -> RobotError:
    """What to tell when a file cannot be written."""
    return RobotError(
        file, "", f"cannot be written ({error.strerror})", "Choose a folder you may write to."
    )
