"""Changed robots are not kept by what is remembered of them: a desk lives through thousands."""

import gc
from pathlib import Path

from legwright.mechanics.opening import edited
from legwright.robot.editing import opened
from legwright.robot.robot import Robot
from legwright.study.check import glimpse

WREN = Path(__file__).parents[2] / "robots" / "wren"

KEPT = 6
"""The last four that something was remembered of, and what is at hand."""


def _alive() -> int:
    gc.collect()
    return sum(type(each) is Robot for each in gc.get_objects())


def test_only_the_last_robots_are_remembered() -> None:
    text = opened(WREN)
    before = _alive()
    for number in range(12):
        glimpse(edited(text, {"dimensions.femur": f"{54 + 0.1 * number:g} mm"}))
    assert _alive() - before <= KEPT
