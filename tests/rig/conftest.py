"""What the tests of the rig share."""

from __future__ import annotations

import pytest

import legwright as lw
from legwright.robot.robot import Robot


@pytest.fixture(scope="session")
def rook() -> Robot:
    return lw.load("robots/rook")
