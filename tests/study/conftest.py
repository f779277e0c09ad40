"""Variants of the demo walker, and its study, made once."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import legwright as lw
from legwright.robot.robot import Robot
from legwright.study.check import study
from legwright.study.evidence import Study

TESTS = Path(__file__).parents[1]
ROOK = TESTS.parent / "robots" / "rook" / "robot.toml"

if str(TESTS / "mechanics") not in sys.path:  # the Pinocchio referee lives there
    sys.path.append(str(TESTS / "mechanics"))

Variant = Callable[..., Robot]


@pytest.fixture(scope="session")
def rook() -> Robot:
    return lw.load(ROOK)


@pytest.fixture(scope="session")
def rook_study(rook: Robot) -> Study:
    return study(rook)


@pytest.fixture
def variant(tmp_path: Path) -> Variant:
    """``variant({old: new}, …)``: rook with lines of its sheet changed; each must bite."""

    def make(*changes: dict[str, str]) -> Robot:
        text = ROOK.read_text(encoding="utf-8")
        for old, new in (pair for change in changes for pair in change.items()):
            assert text.count(old) >= 1, old
            text = text.replace(old, new, 1)
        (tmp_path / "robot.toml").write_text(text, encoding="utf-8")
        return lw.load(tmp_path)

    return make
