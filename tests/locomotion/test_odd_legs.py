"""Footing and planning for legs that turn all round, fold over, or have two drives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import legwright as lw
from legwright.locomotion.stance import footing

INERTIAL = '<inertial><mass value="{}"/><inertia ixx="1e-4" iyy="1e-4" izz="1e-4" ixy="0" ixz="0" iyz="0"/></inertial>'  # noqa: E501
YAW, PITCH, ROUND = ("0 0 1", "revolute"), ("0 1 0", "revolute"), ("0 1 0", "continuous")
Joint = tuple[tuple[str, str], float, float, float]
"""Axis and kind, lower and upper limit [rad], distance to the next joint [m]."""


def walker(path: Path, joints: list[Joint], *, legs: int = 6, aside: float = 0.0) -> Path:
    """A round body whose legs point outward; each segment is `aside` to its left [m]."""
    parts = [f'<link name="base">{INERTIAL.format(2)}</link>']
    for i in range(legs):
        heading = 2 * np.pi * (i + 0.5) / legs
        at = f"{0.25 * np.cos(heading):.9g} {0.25 * np.sin(heading):.9g} 0"
        rpy, before = f"0 0 {heading:.9g}", "base"
        for k, ((axis, kind), low, high, length) in enumerate(joints):
            here = f"leg{i}_{k}"
            span = f'lower="{low}" upper="{high}"' if kind == "revolute" else ""
            parts += [
                f'<link name="{here}">{INERTIAL.format(0.05)}</link>',
                f'<joint name="{here}" type="{kind}"><parent link="{before}"/>'
                f'<child link="{here}"/><origin xyz="{at}" rpy="{rpy}"/><axis xyz="{axis}"/>'
                f'<limit {span} effort="4" velocity="6"/></joint>',
            ]
            before, at, rpy = here, f"{length} {aside} 0", "0 0 0"
        parts += [
            f'<link name="leg{i}_foot"/>',
            f'<joint name="leg{i}_end" type="fixed"><parent link="{before}"/>'
            f'<child link="leg{i}_foot"/><origin xyz="{at}"/></joint>',
        ]
    path.write_text(f'<robot name="siskin">{"".join(parts)}</robot>')
    return path


def walked(robot, gait: str):
    walk = lw.Walk(lw.gait(gait, legs=len(robot.legs)), velocity=(0.03, 0.01), turn=0.05)
    return lw.plan(robot, walk, samples=64)


@pytest.mark.parametrize("kinds", [(ROUND, ROUND), (ROUND, PITCH), (PITCH, ROUND)])
def test_legs_that_fold_over_stand_outward_and_follow_their_path(tmp_path, kinds):
    """What a leg reaches folded over its hip must not draw its foot there."""
    first, second = kinds
    joints = [(YAW, -0.8, 0.8, 0.05), (first, -1.3, 1.2, 0.11), (second, -0.3, 2.4, 0.17)]
    robot = lw.load(walker(tmp_path / "siskin.urdf", joints, aside=-0.015))
    stand = footing(robot)
    outward = stand.feet[:, :2] - robot.hips[:, :2]
    radial = np.sum(outward * robot.hips[:, :2], axis=1) / np.linalg.norm(robot.hips[:, :2], axis=1)
    assert np.all(radial > 0.07)
    for gait in ("tripod", "ripple", "wave"):
        assert walked(robot, gait).reached.all()


@pytest.mark.parametrize("second", [(-0.2, 1.5), (0.3, 1.2)])
def test_legs_with_two_drives_stand_where_they_reach_the_ground(tmp_path, second):
    """Referee: forward kinematics and limits. A yaw and a pitch choose no foot distance."""
    joints = [(YAW, -0.9, 0.9, 0.1), (PITCH, *second, 0.16)]
    robot = lw.load(walker(tmp_path / "siskin.urdf", joints, aside=0.01))
    stand = footing(robot)
    for index, leg in enumerate(robot.legs.values()):
        q = stand.q[robot.columns[leg.name]]
        np.testing.assert_allclose(leg.foot(q), stand.feet[index], atol=1e-9)
        assert np.all(q >= leg.lower) and np.all(q <= leg.upper)
    np.testing.assert_allclose(stand.feet[:, 2], -stand.height, atol=1e-6)


def test_four_drives_that_turn_all_round_are_planned(tmp_path):
    """Warnings are errors here: the middle of an unlimited range is not inf - inf."""
    joints = [(YAW, -0.8, 0.8, 0.05), (ROUND, 0, 0, 0.09), (PITCH, -1.3, 1.2, 0.1),
              (ROUND, 0, 0, 0.12)]  # fmt: skip
    robot = lw.load(walker(tmp_path / "siskin.urdf", joints, legs=8))
    motion = walked(robot, "ripple")
    assert motion.reached.all()
    assert np.isfinite(motion.qdd).all()
