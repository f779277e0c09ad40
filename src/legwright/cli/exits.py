"""Exit codes that scripts may rely on."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """What a command's exit code means."""

    PASS = 0
    """Nothing fails."""
    FAIL = 1
    """Something fails."""
    UNREADABLE = 2
    """The input cannot be read, or the request makes no sense."""


UNREADABLE = int(Exit.UNREADABLE)
