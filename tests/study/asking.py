"""Asking a study for one finding; the quick variant of rook."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from legwright.study.finding import Finding

ROOK = Path(__file__).parents[2] / "robots" / "rook" / "robot.toml"
_SLOW = re.search(r"\[requirements\.by_gait\.wave\].*?\n\n", ROOK.read_text("utf-8"), re.DOTALL)
assert _SLOW is not None

ONE_GAIT = {'gaits = ["tripod", "ripple", "wave"]': 'gaits = ["tripod"]', _SLOW[0]: "\n"}
"""Quick to judge."""


def named(findings: Iterable[Finding], name: str) -> Finding:
    """The one finding of that name."""
    (found,) = [one for one in findings if one.name == name]
    return found
