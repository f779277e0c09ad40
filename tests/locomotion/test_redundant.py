"""Legs with four drives: calm joints on the path, closing with the cycle."""

from __future__ import annotations

import numpy as np
import pytest

import legwright as lw
from legwright.locomotion.gait import gait
from legwright.locomotion.plan import plan
from legwright.locomotion.redundant import calm_poses
from legwright.locomotion.stance import footing
from legwright.locomotion.walk import Walk

HEAVY = '<inertial><mass value="{m}"/><inertia ixx="1e-4" iyy="1e-4" izz="1e-4" ixy="0" ixz="0" iyz="0"/></inertial>'  # noqa: E501


def joint(name: str, kind: str, parent: str, child: str, at: str, rpy: str, axis: str) -> str:
    moves = (
        ""
        if kind == "fixed"
        else (f'<axis xyz="{axis}"/><limit lower="-1.4" upper="1.4" effort="3" velocity="6"/>')
    )
    return (
        f'<joint name="{name}" type="{kind}"><parent link="{parent}"/><child link="{child}"/>'
        f'<origin xyz="{at}" rpy="{rpy}"/>{moves}</joint>'
    )


@pytest.fixture(scope="module")
def finch(tmp_path_factory):
    """Four legs of yaw, pitch, pitch, pitch."""
    parts = [f'<link name="base">{HEAVY.format(m=1.0)}</link>']
    for i, (x, y, turn) in enumerate(
        [(0.1, 0.06, 0.8), (-0.1, 0.06, 2.3), (0.1, -0.06, -0.8), (-0.1, -0.06, -2.3)]
    ):
        spots = [f"{x} {y} 0", "0.04 0 0", "0.08 0 0", "0.08 0 0", "0.06 0 0"]
        for k, spot in enumerate(spots):
            here, before = f"l{i}_{k}", "base" if k == 0 else f"l{i}_{k - 1}"
            parts.append(f'<link name="{here}">{HEAVY.format(m=0.05)}</link>')
            kind = "fixed" if k == 4 else "revolute"
            rpy = f"0 0 {turn}" if k == 0 else ("0 0.5 0" if k in (2, 3) else "0 0 0")
            axis = "0 0 1" if k == 0 else "0 1 0"
            parts.append(joint(f"j{i}_{k}", kind, before, here, spot, rpy, axis))
    file = tmp_path_factory.mktemp("finch") / "finch.urdf"
    file.write_text(f'<robot name="finch">{"".join(parts)}</robot>', encoding="utf-8")
    return lw.load(file)


def test_four_drives_walk_without_jumps(finch):
    """Referee: forward kinematics, limits, and steps that halve with the sampling."""
    walk = Walk(gait("wave", 4), velocity=(0.02, 0.005), turn=0.05, cycle=1.6, lift=0.02)
    steps = []
    for samples in (64, 128):
        motion = plan(finch, walk, samples=samples)
        assert motion.ok
        for index, leg in enumerate(finch.legs.values()):
            q = motion.q[:, finch.columns[leg.name]]
            assert np.all(q >= leg.lower) and np.all(q <= leg.upper)
            np.testing.assert_allclose(leg.foot(q), motion.feet[:, index], atol=1e-9)
        steps.append(np.abs(motion.q - np.roll(motion.q, 1, axis=0)).max())
    assert steps[1] < 0.6 * steps[0] < 0.2


def test_the_pose_is_the_least_deviation(finch):
    """Referee: at a constrained minimum, what is left of the deviation lies in the row space of
    the Jacobian (Lagrange's condition)."""
    stand = footing(finch)
    leg = next(iter(finch.legs.values()))
    rest = np.array([0.1, 0.1, 0.3, 0.4])
    path = leg.foot(rest) + np.array([[0.0, 0.0, 0.0], [0.01, 0.0, 0.005], [0.0, -0.01, -0.004]])
    q = calm_poses(leg, path, rest)
    assert q is not None
    np.testing.assert_allclose(q[0], rest, atol=1e-9)
    for pose in q:
        free = np.linalg.svd(leg.jacobian(pose))[2][3]
        assert abs(free @ (pose - rest)) < 1e-9
    assert calm_poses(leg, path + np.array([1.0, 0.0, 0.0]), rest) is None
    assert np.isfinite(stand.q).all()
