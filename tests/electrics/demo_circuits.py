"""The demo robots' circuits, and variants of them, for tests."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import legwright as lw
from legwright.robot.loading import load
from legwright.robot.robot import Robot

ROBOTS = Path(__file__).parents[2] / "robots"
DEMOS = ("rook", "wren", "heron")


@cache
def demo(name: str) -> Robot:
    """A demo robot, loaded once."""
    return lw.load(ROBOTS / name)


def variant(folder: Path, text: str, base: str = "rook") -> Robot:
    """A demo robot with some of its sheet stated otherwise."""
    from legwright.mechanics.kinematics import kinematics_of

    sheet = folder / "robot.toml"
    head = f'schema = 1\nextends = "{ROBOTS / base / "robot.toml"}"\n'
    sheet.write_text(head + text, encoding="utf-8")
    return load(sheet, solver=kinematics_of)


@cache
def walked(name: str, samples: int = 24) -> tuple[Any, Any]:
    """A slow tripod cycle of a demo robot: motion and loads."""
    robot = demo(name)
    walk = lw.Walk(lw.gait("tripod", legs=6), velocity=(0.06, 0.0), cycle=1.4)
    motion = lw.plan(robot, walk, samples=samples)
    return motion, lw.loads(robot, motion)
