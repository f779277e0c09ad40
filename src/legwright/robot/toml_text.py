"""Values as TOML text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from math import isfinite

from legwright.errors import RequestError


def quoted(value: str) -> str:
    """A TOML basic string."""
    kept = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in kept) + '"'


def key(name: str) -> str:
    """A bare key, or a quoted one where it must be."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else quoted(name)


def literal(value: object) -> str:
    """A value as it stands behind an equals sign.

    Args:
        value: Text, number, truth, list or table of such.

    Returns:
        One line of TOML.

    Raises:
        RequestError: for a value that a sheet cannot hold.
    """
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) or (isinstance(value, float) and isfinite(value)):
        return repr(value)
    if isinstance(value, Mapping):
        inside = ", ".join(f"{key(str(name))} = {literal(each)}" for name, each in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(literal(each) for each in value)}]"
    raise RequestError("value", value, "text, a finite number, true or false, a list or a table")


def tables(entries: Iterable[tuple[tuple[str, ...], object]]) -> str:
    """Entries under the headings of their tables.

    Args:
        entries: Key path and value of each; no path runs through another's value.

    Returns:
        TOML text: entries without a table first, then table by table.
    """
    grouped: dict[tuple[str, ...], list[str]] = {(): []}
    for path, value in entries:
        grouped.setdefault(path[:-1], []).append(f"{key(path[-1])} = {literal(value)}")
    blocks = ["\n".join(grouped.pop(()))]
    for table, lines in grouped.items():
        blocks.append("\n".join([f"[{'.'.join(key(name) for name in table)}]", *lines]))
    return "\n\n".join(block for block in blocks if block) + "\n"
