"""Plates under the feet, against a mesh library's nearest points."""

from __future__ import annotations

import numpy as np
import trimesh

from legwright.rig._foothold_kernel import AWAY, lay_plates
from legwright.rig.ground import Ground
from legwright.rig.roughness import surface

RADIUS = 0.009


def _mesh(ground: Ground) -> trimesh.Trimesh:
    """The triangles that the kernel means, as a mesh."""
    rows, columns = ground.heights.shape
    x = ground.start[0] + ground.spacing * np.arange(rows)
    y = ground.start[1] + ground.spacing * np.arange(columns)
    points = np.stack([*np.meshgrid(x, y, indexing="ij"), ground.heights], axis=-1).reshape(-1, 3)
    number = np.arange(rows * columns).reshape(rows, columns)
    a, b = number[:-1, :-1].ravel(), number[1:, :-1].ravel()
    c, d = number[:-1, 1:].ravel(), number[1:, 1:].ravel()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([d, c, b], 1)])
    return trimesh.Trimesh(points, faces, process=False)


def _laid(ground: Ground, feet: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Positions and normals of the plates, (2 L, 3) each."""
    plates, turns = np.zeros((2 * len(feet), 3)), np.zeros((2 * len(feet), 4))
    lay_plates(
        ground.heights, ground.spacing, *ground.start, feet, np.arange(len(feet)),
        np.full(len(feet), RADIUS), plates, turns,
    )  # fmt: skip
    w, x, y, z = turns.T
    normals = np.stack(
        [2.0 * (x * z + w * y), 2.0 * (y * z - w * x), w * w - x * x - y * y + z * z], axis=1
    )
    return plates, normals


def test_the_first_plate_is_tangent_at_the_nearest_point() -> None:
    """Referee: trimesh's nearest point on the same triangles."""
    heights = 3.0 * surface((40, 40), 0.01, "F", seed=2, low=1.0)
    ground = Ground(name="x", heights=heights, spacing=0.01, start=(0.0, 0.0))
    random = np.random.default_rng(1)
    feet = random.uniform(0.05, 0.34, (200, 3))
    feet[:, 2] = ground.height(feet[:, 0], feet[:, 1]) + random.uniform(0.004, 0.0115, 200)
    nearest, gaps, _ = trimesh.proximity.closest_point(_mesh(ground), feet)
    plates, normals = _laid(ground, feet)
    first = plates[::2]
    near = gaps < RADIUS + 0.003
    assert near.sum() > 150
    assert np.allclose(np.linalg.norm(feet - first, axis=1)[near], gaps[near], atol=1e-9)
    assert np.allclose(first[near], nearest[near], atol=1e-6)
    towards = (feet - first)[near] / gaps[near, None]
    assert np.allclose(normals[::2][near], towards, atol=1e-6)
    assert (first[~near][:, 2] == AWAY).all()


def test_an_inner_corner_has_two_plates_and_a_flat_floor_one() -> None:
    """Formula: a ball in a corner touches the floor and the (steep) wall, each at its own gap."""
    heights = np.zeros((60, 60))
    heights[30:] = 0.1
    ground = Ground(name="x", heights=heights, spacing=0.01, start=(0.0, 0.0))
    wall = np.arctan2(0.1, 0.01)
    off = RADIUS / np.sin(wall) + RADIUS / np.tan(wall) - 0.001
    feet = np.array([[0.29 - off, 0.305, RADIUS - 0.0005], [0.1, 0.3, RADIUS - 0.0005]])
    plates, normals = _laid(ground, feet)
    assert np.allclose(normals[0], [0.0, 0.0, 1.0], atol=1e-9)
    assert np.allclose(normals[1], [-np.sin(wall), 0.0, np.cos(wall)], atol=1e-6)
    assert np.allclose(plates[0], [feet[0, 0], 0.305, 0.0], atol=1e-9)
    assert plates[2, 2] == 0.0 and plates[3, 2] == AWAY


def test_beyond_the_edge_the_ground_goes_on_level() -> None:
    ground = Ground(name="x", heights=np.full((5, 5), 0.02), spacing=0.01, start=(0.0, 0.0))
    heights = ground.heights.copy()
    heights[0, 0] = 0.0
    ground = Ground(name="x", heights=heights, spacing=0.01, start=(0.0, 0.0))
    feet = np.array([[0.5, 0.02, 0.02 + RADIUS - 0.001]])
    plates, normals = _laid(ground, feet)
    assert np.allclose(plates[0], [0.5, 0.02, 0.02], atol=1e-9)
    assert np.allclose(normals[0], [0.0, 0.0, 1.0], atol=1e-9)
