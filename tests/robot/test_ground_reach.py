"""Lowest points of shapes; referee: dense sampling of their surfaces."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from legwright.robot.ground_reach import lowest_point
from legwright.robot.tree import Floats, Shape, ShapeKind


def surface(kind: ShapeKind, size: tuple[float, ...]) -> Floats:
    """Many points that hold every extreme point of the shape, nearly."""
    around = np.linspace(0, 2 * np.pi, 721)
    if kind is ShapeKind.BOX:
        corners = np.array(np.meshgrid(*[[-1, 1]] * 3)).reshape(3, -1).T
        return corners * np.array(size) / 2
    if kind is ShapeKind.CYLINDER:
        radius, length = size
        rim = np.stack([radius * np.cos(around), radius * np.sin(around), 0 * around], axis=1)
        ends = (np.array([0, 0, s * length / 2]) for s in (-1, 1))
        return np.concatenate([rim + end for end in ends])
    tilt = np.linspace(0, np.pi, 361)
    a, b = (grid.ravel() for grid in np.meshgrid(around, tilt))
    return size[0] * np.stack([np.cos(a) * np.sin(b), np.sin(a) * np.sin(b), np.cos(b)], axis=1)


@pytest.mark.parametrize(
    ("kind", "size"),
    [
        (ShapeKind.BOX, (0.3, 0.2, 0.1)),
        (ShapeKind.CYLINDER, (0.1, 0.5)),
        (ShapeKind.SPHERE, (0.2,)),
    ],
)
def test_lowest_point_of_a_shape(kind: ShapeKind, size: tuple[float, ...]) -> None:
    rng = np.random.default_rng(8)
    shape = Shape(kind=kind, size=size, placement=np.eye(4))
    points = surface(kind, size)
    for up in np.eye(3):
        pose = np.eye(4)
        pose[:3, :3] = Rotation.from_quat(rng.normal(size=4)).as_matrix()
        pose[:3, 3] = rng.normal(size=3)
        want = float(np.min((points @ pose[:3, :3].T + pose[:3, 3]) @ up))
        assert lowest_point(shape, pose, up) == pytest.approx(want, abs=2e-5)
