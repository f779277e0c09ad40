"""Arguments compared by their numbers, for functions whose answers are remembered.

Most edits of a robot leave most of its parts as they were, though all are built anew: what was
worked out for the same numbers holds for them.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np


class Alike:
    """Arguments of a function; equal to others of the same content."""

    def __init__(self, *args: object) -> None:
        """Take arguments.

        Args:
            args: Numbers, texts, arrays, and sequences and frozen dataclasses of these.
        """
        self.args: tuple[Any, ...] = args
        self._content = tuple(map(_content, args))

    def __hash__(self) -> int:
        """Of the content."""
        return hash(self._content)

    def __eq__(self, other: object) -> bool:
        """Whether another has the same content."""
        return isinstance(other, Alike) and self._content == other._content


def _content(value: object) -> Hashable:
    if isinstance(value, np.ndarray):
        return value.shape, value.dtype.str, value.tobytes()
    if isinstance(value, (list, tuple)):
        return tuple(map(_content, value))
    if is_dataclass(value) and not isinstance(value, type):
        return tuple(_content(getattr(value, field.name)) for field in fields(value))
    if not isinstance(value, Hashable):
        raise TypeError(f"{type(value).__name__} has no content to compare by")
    return value
