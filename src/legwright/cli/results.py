"""What a command leaves behind besides what it prints: a JSON file, a folder of documents."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console

from legwright.cli.checking import unwritable, write_text


def leave_json(file: Path | None, results: Callable[[], dict[str, Any]]) -> None:
    """Write results as JSON where a file was asked for.

    Args:
        file: Where to, or None.
        results: Makes them.

    Raises:
        RobotError: where it cannot be written.
    """
    if file is not None:
        write_text(file, json.dumps(results(), indent=1, ensure_ascii=False, allow_nan=False))


def leave_documents(
    console: Console,
    folder: Path | None,
    write: Callable[[Path], Sequence[Path]],
    *,
    nothing: str = "nothing",
) -> None:
    """Write documents where a folder was asked for, and tell their names.

    Args:
        console: Where the names go.
        folder: Where to, or None.
        write: Writes them into a folder and returns the files.
        nothing: What to tell where there are none.

    Raises:
        RobotError: where they cannot be written.
    """
    if folder is None:
        return
    try:
        files = write(folder)
    except OSError as error:
        raise unwritable(folder, error) from None
    names = ", ".join(file.name for file in files) or nothing
    console.print(f"Written to {folder}: {names}", soft_wrap=True)
