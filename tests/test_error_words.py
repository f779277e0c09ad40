"""One fault, one line, whatever was typed."""

from __future__ import annotations

import pytest

from legwright.errors import RobotError


@pytest.mark.parametrize(
    ("typed", "shown"),
    [("0\n0", r"0\n0"), ("a\r\nb", r"a\r\nb"), ("\u2028", r"\u2028"), ("é ", "é ")],
)
def test_a_fault_is_told_on_one_line(typed: str, shown: str) -> None:
    text = str(RobotError("robot.toml", "a.key", f"is {typed!s}", "Cure it."))
    assert text == f"robot.toml, a.key: is {shown}. Cure it."
    assert len(text.splitlines()) == 1
