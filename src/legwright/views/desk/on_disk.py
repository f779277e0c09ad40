"""The files that a robot was read from, and whether they are still those."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from legwright.robot.robot import Robot
from legwright.robot.sheet_text import SheetText

Stamp = tuple[tuple[str, int, int], ...]
"""Name, time of the last change [ns] and size of each file; zeros for one that is gone."""


def files_of(text: SheetText, robot: Robot) -> tuple[Path, ...]:
    """All files that make a robot: its sheets and servo files, its URDF, the meshes of its shells.

    Args:
        text: The sheet's content.
        robot: What was read from it.
    """
    folder, sheet = robot.source.parent, robot.sheet
    named = [sheet.urdf, *(shell.mesh for shell in sheet.shell.values())]
    beside = [folder / name for name in named if name]
    return tuple(sorted({text.file, robot.source, *text.origin.values(), *beside}))


def stamp_of(files: Iterable[Path]) -> Stamp:
    """What tells whether files have changed.

    Args:
        files: The files.
    """
    return tuple(_stamp(file) for file in files)


def _stamp(file: Path) -> tuple[str, int, int]:
    try:
        found = file.stat()
    except OSError:
        return str(file), 0, 0
    return str(file), found.st_mtime_ns, found.st_size
