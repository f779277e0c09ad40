"""A robot with some keys of its sheet changed in memory; and kept as a variant when asked.

Nothing on disk changes unless `write_variant` is called, and that only makes a new folder.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from legwright.errors import RobotError
from legwright.robot.assembly import assemble
from legwright.robot.leg import Solver
from legwright.robot.loading import SHEET_NAME, build, source_of
from legwright.robot.robot import Robot
from legwright.robot.scaffold import write_new
from legwright.robot.sheet_faults import key_name
from legwright.robot.sheet_keys import at_key, key_path, laid_over
from legwright.robot.sheet_reading import sheet_of
from legwright.robot.sheet_text import KeyPath, SheetText, sheet_text
from legwright.robot.toml_text import tables
from legwright.robot.urdf import read_urdf

Base = Robot | SheetText | Path | str
"""What is edited: a robot (what was edited before stays), a sheet once read, or a path."""


def edited(base: Base, overrides: Mapping[str, object], solver: Solver) -> Robot:
    """The robot that a sheet describes with some of its values replaced.

    Args:
        base: Folder, sheet, bare URDF, a sheet's content read with `opened`, or a robot; of a
            robot the files are read again and earlier edits stay.
        overrides: Dotted key -> new value, as text the way one types it (``"90 mm"``, ``"0.5"``)
            or as a plain value. Where a URDF is the shape, only keys of the sheet can be edited.
        solver: Chooses the kinematics of each leg.

    Returns:
        The robot; its `edits` hold the overrides.

    Raises:
        RequestError: for a key that cannot be read.
        RobotError: with file, key, value and cure, as if the values stood in the file.
    """
    text, values = _start(base, overrides)
    laid = _laid(text, values)
    if text.file.suffix.lower() == ".toml":
        robot = build(sheet_of(laid), text.file, solver)
    else:
        robot = assemble(read_urdf(text.file), sheet_of(laid), text.file, text.file, solver)
    return replace(robot, edits=MappingProxyType(values))


def opened(path: Path | str) -> SheetText:
    """A sheet's content, read once for many edits.

    Args:
        path: Folder, sheet or bare URDF; the content of a bare URDF's sheet is empty.

    Returns:
        The content.

    Raises:
        RobotError: if it cannot be read.
    """
    source = source_of(Path(path))
    if source.suffix.lower() == ".toml":
        return sheet_text(source)
    return SheetText(file=source, table={}, origin={})


def write_variant(
    folder: Path | str, base: Base, overrides: Mapping[str, object], solver: Solver
) -> Path:
    """Keep an edited robot as a new folder whose sheet extends the base's.

    Args:
        folder: Folder to make; its last part names the robot unless `overrides` do.
        base: What was edited; its files stay as they are, comments and all.
        overrides: Dotted key -> new value. Only what differs from the base is written.
        solver: Chooses the kinematics of each leg.

    Returns:
        The new sheet.

    Raises:
        RequestError: for a key that cannot be read.
        RobotError: if the values make no robot, the folder holds a sheet already, or it cannot
            be written.
    """
    edited(base, overrides, solver)
    sheet = Path(folder) / SHEET_NAME
    text, values = _start(base, overrides)
    write_new(sheet, variant_text(text, values, sheet))
    return sheet


def variant_text(text: SheetText, values: Mapping[str, object], sheet: Path) -> str:
    """The sheet of a variant: what it extends, and what differs.

    Args:
        text: The base's content.
        values: Dotted key -> new value.
        sheet: Where the variant's sheet will lie.

    Returns:
        TOML text.
    """
    laid = _laid(text, values)
    wholes = dict.fromkeys(_whole(key_path(key)) for key in values)
    differing = {
        path: at_key(laid.table, path)
        for path in wholes
        if at_key(laid.table, path) != at_key(text.table, path)
    }
    relation = "extends" if text.file.suffix.lower() == ".toml" else "urdf"
    where = Path(os.path.relpath(text.file, sheet.parent)).as_posix()
    head: dict[tuple[str, ...], object] = {(relation,): where}
    if ("name",) not in differing:
        head["name",] = sheet.parent.name
    about = f"# A variant of {text.file.parent.name}: stated here is only what differs.\n\n"
    return about + tables([*head.items(), *_leaves(differing)])


def _start(base: Base, overrides: Mapping[str, object]) -> tuple[SheetText, dict[str, object]]:
    """What to lay the values over, and all the values."""
    if isinstance(base, Robot):
        return opened(base.source), {**base.edits, **overrides}
    return base if isinstance(base, SheetText) else opened(base), dict(overrides)


def _laid(text: SheetText, values: Mapping[str, object]) -> SheetText:
    shape = text.table.get("urdf", text.file.name if text.file.suffix.lower() != ".toml" else None)
    for key in values:
        if shape is not None and key_path(key)[0] == "dimensions":
            raise RobotError(
                text.file,
                key_name(key_path(key)),
                f"cannot be edited: the shape of this robot is the file '{shape}'",
                "Change that file; only what the sheet states can be edited here.",
            )
    return laid_over(text, values)


def _whole(path: KeyPath) -> tuple[str, ...]:
    """The part of a path that a variant can state: lists are replaced whole."""
    names: list[str] = []
    for part in path:
        if isinstance(part, int):
            break
        names.append(part)
    return tuple(names)


def _leaves(
    values: Mapping[tuple[str, ...], object],
) -> list[tuple[tuple[str, ...], object]]:
    """Entries without those that lie inside another one."""
    return [
        (path, value)
        for path, value in values.items()
        if not any(path[:end] in values for end in range(1, len(path)))
    ]
