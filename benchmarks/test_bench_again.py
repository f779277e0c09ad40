"""How soon a changed robot is shown and judged, everything compiled and loaded.

The desk asks for a picture within 0.1 s and the whole verdict within 0.3 s.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from legwright.mechanics.opening import edited
from legwright.robot.editing import opened
from legwright.study.check import again, glimpse, study

ROBOTS = Path(__file__).parents[1] / "robots"

SHAPE = {
    "rook": {"dimensions.femur": "88 mm"},
    "wren": {"dimensions.femur": "54 mm"},
    "heron": {"stance.foot_distance": "205 mm"},  # its shape is a URDF
}
SERVO = {"rook": "dunnock", "wren": "goldcrest", "heron": "whinchat"}
CHANGES = ("shape", "servo", "gauge", "speed")


def edits(name: str, change: str) -> dict[str, object]:
    """What is changed in the sheet of a robot."""
    return {
        "shape": SHAPE[name],
        "servo": {f"servo.{SERVO[name]}.mass": "60 g", f"servo.{SERVO[name]}.backlash": "0.3 deg"},
        "gauge": {"harness.conductor.leg.gauge": "22 AWG"},
        "speed": {"requirements.speed_forward": "0.09 m/s"},
    }[change]


@pytest.fixture(scope="module", params=sorted(SHAPE))
def desk(request):
    """A robot's sheet, read once, and its study."""
    text = opened(ROBOTS / request.param)
    return request.param, text, study(edited(text, {}))


@pytest.mark.parametrize("change", CHANGES)
def test_verdict_after_a_change(benchmark, desk, change) -> None:
    """From the typed value to all findings; asked: 300 ms."""
    name, text, before = desk
    values = edits(name, change)

    def changed():
        return again(before, edited(text, values))

    found = benchmark.pedantic(changed, rounds=5, warmup_rounds=1)
    assert len(found.findings) == len(before.findings)


def test_picture_after_a_change(benchmark, desk) -> None:
    """From the typed value to one weighed gait cycle; asked: 100 ms."""
    name, text, _ = desk
    case = benchmark.pedantic(lambda: glimpse(edited(text, SHAPE[name])), rounds=9, warmup_rounds=1)
    assert case.motion.q.shape[1] == 18


def test_edited_robot(benchmark, desk) -> None:
    """From the typed value to a robot; asked: 20 ms."""
    name, text, _ = desk
    benchmark.pedantic(lambda: edited(text, SHAPE[name]), rounds=15, warmup_rounds=1)
