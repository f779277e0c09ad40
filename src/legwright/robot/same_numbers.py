"""Arguments compared by their numbers, for functions whose answers are remembered.

Most edits of a robot leave most of its parts as they were, though all are built anew: what was
worked out for the same numbers holds for them.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import is_dataclass
from typing import Any

import numpy as np

from legwright.robot.quantities import Part
from legwright.robot.tree import field_names


class Alike:
    """Arguments of a function; equal to others of the same content."""

    def __init__(self, *args: object) -> None:
        """Take arguments.

        Args:
            args: Numbers, texts, arrays, and sequences, dicts, frozen dataclasses and tables of the
                sheet made of these.
        """
        self.args: tuple[Any, ...] = args
        self._content = tuple(map(_content, args))
        self._hash = hash(self._content)

    def __hash__(self) -> int:
        """Of the content."""
        return self._hash

    def __eq__(self, other: object) -> bool:
        """Whether another has the same content."""
        return isinstance(other, Alike) and self._content == other._content


def _content(value: object) -> Hashable:
    if value is None or isinstance(value, (float, str, int)):
        return value
    if isinstance(value, np.ndarray):
        return value.shape, value.dtype.str, value.tobytes()
    if isinstance(value, (list, tuple)):
        return tuple(map(_content, value))
    if isinstance(value, Part):
        return tuple(map(_content, value.__dict__.values()))
    if isinstance(value, dict):
        return tuple((name, _content(each)) for name, each in value.items())
    if is_dataclass(value) and not isinstance(value, type):
        return tuple(_content(getattr(value, name)) for name in field_names(type(value)))
    if not isinstance(value, Hashable):
        raise TypeError(f"{type(value).__name__} has no content to compare by")
    return value
