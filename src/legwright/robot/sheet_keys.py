"""Keys of a sheet written as text, and laying single values over a sheet in memory."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from legwright.errors import RequestError, RobotError
from legwright.robot.sheet_faults import key_name, quoted
from legwright.robot.sheet_text import KeyPath, SheetText

_PART = re.compile(
    r"""\.?(?: "(?P<double>[^"\n]+)" | '(?P<single>[^'\n]+)' | (?P<bare>[^.\[\]"'\s]+) )"""
    r"""(?P<places>(?:\[\d{1,4}\])*)""",
    re.VERBOSE,
)
_FILES = ("extends", "servo_files", "schema")


def key_path(key: str) -> KeyPath:
    """A dotted key as a path.

    Args:
        key: ``dimensions.femur``, ``fit.*_femur``, ``hub.branch."left-front".conductor``; places
            of a list in brackets and counted from 1: ``dimensions.hips[1][3]``.

    Returns:
        The path; places of lists counted from 0.

    Raises:
        RequestError: when it is no such key.
    """
    parts: list[str | int] = []
    at = 0
    while at < len(key):
        part = _PART.match(key, at)
        if part is None or (at > 0) != (key[at] == "."):
            break
        parts.append(part["double"] or part["single"] or part["bare"])
        parts += [int(place) - 1 for place in re.findall(r"\d+", part["places"])]
        at = part.end()
    if not parts or at < len(key) or any(isinstance(part, int) and part < 0 for part in parts):
        raise RequestError("key", key, 'a key of the sheet like "dimensions.femur"')
    return tuple(parts)


def value_of(typed: object, now: object) -> object:
    """What was typed into a field, as the sheet would hold it.

    Args:
        typed: Text as one types it, without quotes, or a value already.
        now: What the sheet holds at this place, None when nothing.

    Returns:
        Text where the sheet holds text; else the number, truth or list that the text spells,
        or the text itself where it spells none.
    """
    if not isinstance(typed, str) or "\n" in typed or "\r" in typed:
        return typed
    try:
        spelled = tomllib.loads(f"value = {typed}")["value"]
    except (tomllib.TOMLDecodeError, ValueError, RecursionError):
        return typed
    if isinstance(spelled, str):
        return spelled
    plain = isinstance(spelled, (bool, int, float, list, dict)) and not isinstance(now, str)
    return spelled if plain else typed


def at_key(table: Mapping[str, Any], path: KeyPath) -> Any:
    """What a table holds at a path, None when nothing."""
    here: Any = table
    for part in path:
        inside = isinstance(here, Mapping) and part in here
        listed = isinstance(here, list) and isinstance(part, int) and part < len(here)
        if not (inside or listed):
            return None
        here = here[part]
    return here


def laid_over(text: SheetText, values: Mapping[str, object]) -> SheetText:
    """A sheet's content with some values replaced, the given content untouched.

    Args:
        text: The content.
        values: Dotted key -> value; text as one types it, see `value_of`.

    Returns:
        The new content; what was replaced counts as stated by the sheet itself.

    Raises:
        RequestError: for a key that cannot be read.
        RobotError: for a place that the sheet has not, or that is stated in files only.
    """
    table, origin = dict(text.table), dict(text.origin)
    for key, typed in values.items():
        path = key_path(key)
        if path[0] in _FILES:
            raise RobotError(
                text.file, key_name(path), "cannot be changed in memory", "Change it in the file."
            )
        now = at_key(table, path)
        _set(table, path, _merged(now, value_of(typed, now)), text)
        for end in range(1, len(path) + 1):
            if end == len(path) or path[:end] not in origin:
                origin[path[:end]] = text.file
    return SheetText(file=text.file, table=table, origin=origin)


def _merged(now: object, value: object) -> object:
    """A table is laid over the one that is there, as in a sheet; all else replaces it."""
    if not (isinstance(now, dict) and isinstance(value, Mapping)):
        return dict(value) if isinstance(value, Mapping) else value
    return {**now, **{name: _merged(now.get(name), each) for name, each in value.items()}}


def _set(table: dict[str, Any], path: KeyPath, value: object, text: SheetText) -> None:
    """Put a value into a table whose inner tables may be shared: they are copied on the way."""
    here: Any = table
    for depth, part in enumerate(path):
        if isinstance(part, int) and part >= len(here):
            count = f"{len(here)} {'entry' if len(here) == 1 else 'entries'}"
            raise RobotError(
                text.file_of(path),
                key_name(path[: depth + 1]),
                f"is not there: the list has {count}",
                "Name one of them, or write the whole list.",
            )
        if depth == len(path) - 1:
            here[part] = value
            return
        inner = here[part] if isinstance(part, int) else here.get(part)
        wanted = list if isinstance(path[depth + 1], int) else dict
        if inner is None and wanted is dict:
            inner = {}
        if not isinstance(inner, wanted):
            held = "not there" if inner is None else quoted(inner)
            kind = "a list" if wanted is list else "a table"
            raise RobotError(
                text.file_of(path), key_name(path[: depth + 1]), f"is {held}, not {kind}",
                "Name a key of the sheet.",
            )  # fmt: skip
        here[part] = wanted(inner)
        here = here[part]
