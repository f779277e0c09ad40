"""What all messages from desk to page have in common."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

Word = Literal["pass", "warn", "fail", "unknown"]
Matrix = tuple[float, ...]
"""A pose, (4, 4) row by row."""


class Said(Struct, frozen=True, kw_only=True, tag_field="type"):
    """A message from desk to page."""
