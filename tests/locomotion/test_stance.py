"""Footing: a common ground under any legs, with room around every foot."""

from __future__ import annotations

import numpy as np
import pytest

import legwright as lw
from legwright.errors import RequestError
from legwright.locomotion.gait import gait
from legwright.locomotion.plan import plan
from legwright.locomotion.stance import footing
from legwright.locomotion.walk import Walk
from legwright.robot.scaffold import new_robot


def check_stands(robot) -> None:
    """Referee: forward kinematics and the joint limits."""
    stand = footing(robot)
    for index, leg in enumerate(robot.legs.values()):
        q = stand.q[robot.columns[leg.name]]
        np.testing.assert_allclose(leg.foot(q), stand.feet[index], atol=1e-7)
        assert np.all(q >= leg.lower - 1e-9) and np.all(q <= leg.upper + 1e-9)
    np.testing.assert_allclose(stand.feet[:, 2], -stand.height, atol=1e-6)


def test_the_sheets_stance_is_kept(rook):
    stand = footing(rook)
    sheet = rook.sheet.stance
    assert stand.height == sheet.body_height
    assert stand.notes == ()
    reach = np.linalg.norm(stand.feet[:, :2] - rook.hips[:, :2], axis=1)
    np.testing.assert_allclose(reach, sheet.foot_distance, atol=1e-12)
    check_stands(rook)


def test_left_and_right_mirror(rook):
    feet = footing(rook).feet
    half = len(feet) // 2
    np.testing.assert_allclose(feet[:half] * [1, -1, 1], feet[half:], atol=1e-9)


def test_wild_robots_stand_with_room_around(wild):
    """Referee: inverse kinematics on a circle around each foot, and above it.

    A foot has at least 5 % of its leg's length of room in each of sixteen directions.
    """
    check_stands(wild)
    stand = footing(wild)
    assert stand.notes[0].startswith("Stance found by the program")
    angles = np.arange(16) * np.pi / 8
    around = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(16)])
    for index, leg in enumerate(wild.legs.values()):
        radius = 0.05 * np.linalg.norm(stand.feet[index] - leg.hip)
        near = stand.q[wild.columns[leg.name]]
        for up in (0.0, radius):
            ring = stand.feet[index] + radius * around + [0.0, 0.0, up]
            assert leg.reach(ring, near=near).ok.all(), leg.name


def test_wild_knees_point_up(wild):
    """Referee: turning the last joint must move the foot inward or outward, not the body
    under it: the last joint lies above the straight line from hip to foot."""
    stand = footing(wild)
    for index, leg in enumerate(wild.legs.values()):
        q = stand.q[wild.columns[leg.name]]
        foot = stand.feet[index]
        # The last joint's origin: the point that the last joint leaves in place.
        column = leg.jacobian(q)[:, -1]
        turned = [leg.foot(q + np.eye(leg.n)[-1] * d) for d in (1e-3, -1e-3)]
        bend = (turned[0] + turned[1] - 2 * foot) / 1e-6  # points from the foot to the joint
        radius = float(column @ column) / np.linalg.norm(bend)
        knee = foot + bend / np.linalg.norm(bend) * radius
        line = leg.hip + (foot - leg.hip) * np.clip(
            (knee - leg.hip) @ (foot - leg.hip) / ((foot - leg.hip) @ (foot - leg.hip)), 0, 1
        )
        assert knee[2] > line[2], leg.name


def test_it_is_the_same_every_time(wild):
    first = footing(wild)
    again = footing(lw.load(wild.source))
    np.testing.assert_array_equal(first.feet, again.feet)
    np.testing.assert_array_equal(first.q, again.q)


@pytest.mark.parametrize("legs", range(4, 11))
def test_new_robots_of_any_leg_count_walk(tmp_path, legs):
    """Referee: every target reached, for every named gait."""
    robot = lw.load(new_robot(tmp_path / f"lark{legs}", legs=legs))
    check_stands(robot)
    for name in ("tripod", "ripple", "wave"):
        walk = Walk(gait(name, legs), velocity=(0.01, 0.003), turn=0.05)
        motion = plan(robot, walk, samples=48)
        assert motion.ok, name
        assert motion.contact.sum(axis=1).min() >= 3


def test_other_heights_are_taken_and_impossible_ones_explained(rook):
    low = footing(rook, height=0.9 * footing(rook).height)
    np.testing.assert_allclose(low.feet[:, 2], -low.height, atol=1e-9)
    with pytest.raises(RequestError, match=r"every foot reaches the ground; .* stays \d+ mm away"):
        footing(rook, height=1.0)
    with pytest.raises(RequestError, match="height"):
        footing(rook, height=np.nan)
    with pytest.raises(RequestError, match="distance"):
        footing(rook, distance=-0.1)


def test_a_footing_is_read_only(rook):
    with pytest.raises(ValueError, match="read-only"):
        footing(rook).feet[0, 0] = 1.0
