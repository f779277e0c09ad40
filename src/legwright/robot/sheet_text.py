"""The sheet's text: files in, one merged table out, with the origin of every entry.

A sheet that says ``extends`` is laid over the sheet it names, table by table; lists and
single values are replaced whole. Paths in a base sheet are re-expressed from the folder of
the sheet that extends it.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from legwright.errors import RobotError

LARGEST = 5_000_000
"""Largest sheet that is read [bytes]."""

KeyPath = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class SheetText:
    """A sheet's merged content before it is checked."""

    file: Path
    table: Mapping[str, Any]
    origin: Mapping[KeyPath, Path]
    """Key path -> the file that states it; lists and values count as a whole."""

    def file_of(self, key: KeyPath) -> Path:
        """The file that states a key, or the nearest table around it."""
        for end in range(len(key), 0, -1):
            if key[:end] in self.origin:
                return self.origin[key[:end]]
        return self.file


def sheet_text(path: Path) -> SheetText:
    """Read a sheet, the sheets it extends, and its servo files.

    Args:
        path: The sheet.

    Returns:
        The merged content.

    Raises:
        RobotError: if a file is missing, unreadable or no TOML, or `extends` runs in a circle.
    """
    table, origin = _with_base(path, ())
    return SheetText(file=path, table=table, origin=origin)


def _with_base(path: Path, seen: tuple[Path, ...]) -> tuple[dict[str, Any], dict[KeyPath, Path]]:
    real = _resolved(path)
    if real in seen:
        chain = " -> ".join(each.parent.name for each in (*seen, real))
        raise RobotError(path, "extends", f"runs in a circle: {chain}", "Remove one 'extends'.")
    own = read_table(path)
    base_name = own.pop("extends", None)
    table: dict[str, Any] = {}
    origin: dict[KeyPath, Path] = {}
    if base_name is not None:
        base_path = _base_path(path, base_name)
        table, origin = _with_base(base_path, (*seen, real))
        _move_paths(table, base_path.parent, path.parent)
        _yield_shape(table, own)
    _lay_servo_files(own, path, table, origin)
    _lay(own, path, table, origin, ())
    return table, origin


def _resolved(path: Path) -> Path:
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError) as error:  # too long, links in a circle, NUL
        raise RobotError(None, "", f"the path cannot be followed ({error})", "Check it.") from None


def _base_path(path: Path, name: object) -> Path:
    if not isinstance(name, str) or not name.strip():
        raise RobotError(
            path, "extends", f"is {name!r}, not a path", 'Write it like "../rook/robot.toml".'
        )
    base = path.parent / name
    if base.is_dir():
        base = base / "robot.toml"
    if not _is_file(base):
        raise RobotError(
            path, "extends", f"names {name!r}, which is no file", "Correct the path of the base."
        )
    return base


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def read_table(path: Path) -> dict[str, Any]:
    """One TOML file as a table.

    Raises:
        RobotError: with line and column where the text is no TOML.
    """
    try:
        return tomllib.loads(_text(path) + "\n")  # else the last line has no number
    except tomllib.TOMLDecodeError as error:
        raise RobotError(
            path, "", f"is no valid TOML: {str(error).rstrip('.')}", "Correct that line."
        ) from None
    except (ValueError, RecursionError):
        raise RobotError(
            path,
            "",
            "is no usable TOML: nested too deep, or a number or date out of range",
            "Simplify it.",
        ) from None


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise RobotError(path, "", "is a folder, not a sheet", "Name the robot.toml in it.")
        if path.exists() and not path.is_file():
            raise RobotError(path, "", "is no ordinary file", "Name a TOML file.")
        if path.stat().st_size > LARGEST:
            raise RobotError(
                path, "", f"is larger than {LARGEST // 1_000_000} MB", "A sheet is a small text."
            )
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise RobotError(path, "", "does not exist", "Check the path.") from None
    except UnicodeDecodeError as error:
        raise RobotError(
            path, f"byte {error.start}", "is not UTF-8 text", "Save the file as UTF-8."
        ) from None
    except (OSError, ValueError) as error:
        raise RobotError(path, "", f"cannot be read ({error})", "Check path and rights.") from None


def _lay_servo_files(
    own: dict[str, Any], path: Path, table: dict[str, Any], origin: dict[KeyPath, Path]
) -> None:
    """Servo models from other files; the sheet's own come on top."""
    names = own.pop("servo_files", [])
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise RobotError(
            path, "servo_files", f"is {names!r}, not a list of paths", 'Write ["../servos.toml"].'
        )
    for name in names:
        file = path.parent / name
        if not _is_file(file):
            raise RobotError(
                path, "servo_files", f"names {name!r}, which is no file", "Correct the path."
            )
        content = read_table(file)
        strange = sorted(set(content) - {"servo", "schema"})
        if strange:
            raise RobotError(
                file,
                strange[0],
                "does not belong into a servo file",
                "A servo file holds [servo.NAME] tables only.",
            )
        content.pop("schema", None)
        _lay(content, file, table, origin, ())


def _lay(
    over: Mapping[str, Any],
    file: Path,
    table: dict[str, Any],
    origin: dict[KeyPath, Path],
    at: KeyPath,
) -> None:
    """Lay one table over another, in place, table by table."""
    for name, value in over.items():
        key = (*at, name)
        origin[key] = file
        if isinstance(value, dict):
            below = table.get(name)
            if not isinstance(below, dict):
                table[name] = below = {}
            _lay(value, file, below, origin, key)
        else:
            table[name] = value


def _yield_shape(table: dict[str, Any], own: Mapping[str, Any]) -> None:
    """A variant that brings its own shape drops the other kind of shape of its base."""
    if "urdf" in own:
        table.pop("dimensions", None)
    elif "dimensions" in own:
        table.pop("urdf", None)


def _move_paths(table: dict[str, Any], old: Path, new: Path) -> None:
    """Express the paths of a base sheet from the folder of the sheet that extends it."""

    def moved(name: object) -> object:
        if not isinstance(name, str) or "://" in name or Path(name).is_absolute():
            return name
        return Path(os.path.relpath(old / name, new)).as_posix()

    if "urdf" in table:
        table["urdf"] = moved(table["urdf"])
    shells = table.get("shell")
    if isinstance(shells, dict):
        table["shell"] = {
            name: {**shell, "mesh": moved(shell["mesh"])}
            if isinstance(shell, dict) and "mesh" in shell
            else shell
            for name, shell in shells.items()
        }
