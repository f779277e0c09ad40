"""Robots to walk with."""

from __future__ import annotations

from pathlib import Path

import pytest

import legwright as lw
from legwright.robot.robot import Robot

ROOT = Path(__file__).parents[2]
WILD = sorted((ROOT / "tests" / "data" / "wild").glob("*.urdf"))


@pytest.fixture(scope="session")
def rook() -> Robot:
    return lw.load(ROOT / "robots" / "rook")


@pytest.fixture(scope="session")
def wren() -> Robot:
    return lw.load(ROOT / "robots" / "wren")


@pytest.fixture(scope="session", params=WILD, ids=lambda path: path.stem)
def wild(request) -> Robot:
    return lw.load(request.param)
