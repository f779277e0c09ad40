"""Merging solids and poses; referees: closed forms of simple bodies, Pinocchio, scipy."""

from __future__ import annotations

import numpy as np
import pinocchio as pin
import pytest
from scipy.spatial.transform import Rotation

from legwright.robot.placement import inverse, pose_of, shifted, turned
from legwright.robot.solids import merged, nothing
from legwright.robot.tree import Solid


def test_two_half_boxes_make_a_box() -> None:
    """Closed form: a uniform box has m (b² + c²) / 12 about each axis."""
    m, (a, b, c) = 2.4, (0.3, 0.2, 0.1)

    def box(m: float, a: float) -> Solid:
        inertia = np.diag([b * b + c * c, a * a + c * c, a * a + b * b]) * m / 12
        return Solid(mass=m, com=np.zeros(3), inertia=inertia)

    half = box(m / 2, a / 2)
    whole = merged([(shifted(np.array([1.0, 0, 0]), s * a / 4), half) for s in (-1, 1)])
    assert whole.mass == pytest.approx(m)
    np.testing.assert_allclose(whole.com, 0, atol=1e-16)
    np.testing.assert_allclose(whole.inertia, box(m, a).inertia, rtol=1e-12)


def test_nothing_merges_to_nothing() -> None:
    assert merged([]).mass == merged([(np.eye(4), nothing())]).mass == 0.0


def test_merging_agrees_with_pinocchio() -> None:
    """Referee: sums of pinocchio.Inertia."""
    rng = np.random.default_rng(5)
    parts, total = [], pin.Inertia.Zero()
    for _ in range(6):
        solid = pin.Inertia.Random()
        pose = pose_of(tuple(rng.normal(size=3)), tuple(rng.uniform(-3, 3, size=3)))
        parts.append((pose, Solid(mass=solid.mass, com=solid.lever, inertia=solid.inertia)))
        total += pin.SE3(pose).act(solid)
    ours = merged(parts)
    assert ours.mass == pytest.approx(total.mass)
    np.testing.assert_allclose(ours.com, total.lever, atol=1e-12)
    np.testing.assert_allclose(ours.inertia, total.inertia, atol=1e-10)


def test_poses_agree_with_scipy() -> None:
    """Referee: scipy's fixed-axis Euler angles and rotation vectors."""
    rng = np.random.default_rng(6)
    for _ in range(20):
        rpy, axis, angle = rng.uniform(-3, 3, 3), rng.normal(size=3), rng.uniform(-7, 7)
        axis /= np.linalg.norm(axis)
        pose = pose_of((1.0, 2.0, 3.0), tuple(rpy))
        np.testing.assert_allclose(
            pose[:3, :3], Rotation.from_euler("xyz", rpy).as_matrix(), atol=1e-14
        )
        np.testing.assert_array_equal(pose[:3, 3], [1, 2, 3])
        turn = Rotation.from_rotvec(angle * axis).as_matrix()
        np.testing.assert_allclose(turned(axis, angle)[:3, :3], turn, atol=1e-14)
        np.testing.assert_allclose(inverse(pose) @ pose, np.eye(4), atol=1e-14)
