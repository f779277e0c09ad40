"""A small robot to put on the desk."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

MADE = re.compile(r"\[(shell|process|making|servo\.\w+\.mount)\b")
ROBOTS = Path(__file__).parents[2] / "robots"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """Rook with one gait, no slope and no made parts: quick to judge."""
    folder = tmp_path / "small"
    folder.mkdir()
    text = (ROBOTS / "rook" / "robot.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[requirements.by_gait.wave]")
    text = head + rest[rest.index("[stance]") :]
    for old, new in (
        ('name = "rook"', 'name = "small"'),
        ('gaits = ["tripod", "ripple", "wave"]', 'gaits = ["tripod"]'),
        ('slope = "12 deg"', 'slope = "0 deg"'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    kept = [part for part in re.split(r"(?m)^(?=\[)", text) if not MADE.match(part)]
    made = re.sub(r"(?m)^process = .*\n", "", "".join(kept))  # of tables that are gone
    (folder / "robot.toml").write_text(made, encoding="utf-8")
    return folder
