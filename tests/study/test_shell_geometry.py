"""What findings on shells follow from: shapes and how they move, whatever they weigh."""

from pathlib import Path

import pytest

from legwright.mechanics.opening import edited
from legwright.robot.editing import opened
from legwright.study.shells import geometry_of

ROOK = Path(__file__).parents[2] / "robots" / "rook"


def test_masses_are_no_geometry():
    text = opened(ROOK)
    light, heavy = edited(text, {}), edited(text, {"servo.dunnock.mass": "90 g"})
    assert heavy.mass > light.mass + 0.1
    assert geometry_of(heavy) == geometry_of(light)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("dimensions.femur", "86 mm"),
        ("dimensions.segments.height", "29 mm"),
        ("dimensions.travel.tibia.upper", "79 deg"),
        ("dimensions.hip_height", "1 mm"),
        ("held.mast_pan", "10 deg"),
    ],
)
def test_shapes_limits_and_poses_are(key, value):
    text = opened(ROOK)
    assert geometry_of(edited(text, {key: value})) != geometry_of(edited(text, {}))
