"""The command `legwright compare`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

import legwright
from legwright.cli.checking import bar, write_text
from legwright.cli.exits import Exit
from legwright.cli.results import leave_json
from legwright.errors import RequestError
from legwright.study.check import study
from legwright.study.comparing import as_json, comparison_of
from legwright.views.comparison_table import comparison_table


def run_compare(
    paths: Sequence[Path], *, only: Sequence[str] | None, html: Path | None, json_file: Path | None
) -> int:
    """Check robots, print them side by side, write what was asked for.

    Args:
        paths: Robot folders, sheets or bare URDFs, two or more.
        only: Areas to judge; all when None.
        html: Where to write one page, or None.
        json_file: Where to write the figures, or None.

    Returns:
        Exit code.
    """
    if len(paths) < 2:
        raise RequestError("robots", len(paths), "two or more, like robots/rook robots/wren")
    console = Console(highlight=False)
    robots = [legwright.load(path) for path in paths]
    found = []
    for robot in robots:
        with bar() as progress:
            found.append(study(robot, only=only, progress=progress))
    comparison = comparison_of(found)
    console.print(comparison_table(comparison, width=console.width))
    leave_json(json_file, lambda: as_json(comparison))
    if html is not None:
        from legwright.views.comparison_sheets import comparison_html

        write_text(html, comparison_html(comparison, issued=date.today()))
        console.print(f"Page: {html}", soft_wrap=True)
    return int(Exit.FAIL if comparison.failed else Exit.PASS)
