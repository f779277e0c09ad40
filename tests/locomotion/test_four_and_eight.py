"""Four, six and eight legs made by the parametric walker: up, walking, single legs, down."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from twin import Twin

import legwright as lw
from legwright.locomotion.command import Command, Kind
from legwright.locomotion.controller import Stage
from legwright.locomotion.gait import gait
from legwright.robot.robot import Robot

ROOK = (Path(__file__).parents[2] / "robots" / "rook").resolve()


HIPS = {
    4: ((120, 75, 45), (-120, 75, 135)),
    6: ((120, 75, 45), (0, 105, 90), (-120, 75, 135)),
    8: ((180, 75, 45), (60, 105, 75), (-60, 105, 105), (-180, 75, 135)),
}
"""Left hips: x, y [mm], and where the leg points [deg]."""


@pytest.fixture(params=[4, 6, 8], ids=lambda legs: f"{legs} legs")
def walker(request: pytest.FixtureRequest, tmp_path: Path) -> Robot:
    """Rook's servos and segments under a body with another number of legs."""
    sheet = tmp_path / "robot.toml"
    rows = (f'["{x} mm", "{y} mm", "{way} deg"]' for x, y, way in HIPS[request.param])
    sheet.write_text(
        f'extends = "{ROOK / "robot.toml"}"\nname = "sandpiper"\n'
        f"[dimensions]\nlegs = {request.param}\nhips = [{', '.join(rows)}]\n"
    )
    return lw.load(sheet)


@pytest.mark.parametrize("name", ["wave", "ripple"])
def test_gets_up_walks_lifts_and_sits(walker: Robot, name: str) -> None:
    """Referees: own forward kinematics for slip, McGhee & Frank (1968) for the margin."""
    twin = Twin(walker)
    legs = tuple(walker.legs)
    twin.run(Command(), 6.0)
    assert twin.controller.stage is Stage.UP
    twin.least_margin = np.inf
    walk = Command(kind=Kind.WALK, velocity=(0.03, 0.0), turn=0.05, gait=gait(name, len(legs)))
    twin.run(walk, 15.0)
    assert twin.controller.place[0] > 0.05
    twin.run(Command(kind=Kind.LIFT, leg=legs[-1]), 6.0)
    assert [event.leg for event in twin.events if event.what == "held"] == [legs[-1]]
    twin.run(Command(), 4.0)
    assert twin.worst_slip < 2e-3
    assert twin.least_margin > 0.0
    assert twin.worst_surge <= 1.001
    twin.run(Command(kind=Kind.SIT), 12.0)
    assert twin.controller.stage is Stage.DOWN
