"""Plates under the feet, against a mesh library's nearest points."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.optimize import minimize

from legwright.rig._foothold_kernel import AWAY, _free, lay_plates
from legwright.rig.ground import Ground
from legwright.rig.grounds import steps
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


def _laid(
    ground: Ground, feet: np.ndarray, radius: float = RADIUS
) -> tuple[np.ndarray, np.ndarray]:
    """Positions and normals of the plates, (L, 3) each."""
    plates, turns = np.zeros((len(feet), 3)), np.zeros((len(feet), 4))
    lay_plates(
        ground.heights, ground.spacing, *ground.start, feet, np.arange(len(feet)),
        np.full(len(feet), radius), plates, turns,
    )  # fmt: skip
    w, x, y, z = turns.T
    normals = np.stack(
        [2.0 * (x * z + w * y), 2.0 * (y * z - w * x), w * w - x * x - y * y + z * z], axis=1
    )
    return plates, normals


def _pushed(ground: Ground, feet: np.ndarray, radius: float = RADIUS) -> np.ndarray:
    """Depth along the normal: force over stiffness, (L, 3) [m]."""
    plates, normals = _laid(ground, feet, radius)
    depth = radius - np.einsum("ij,ij->i", feet - plates, normals)
    depth = np.where(plates[:, 2] == AWAY, 0.0, np.maximum(depth, 0.0))
    return np.asarray(depth[:, None] * normals)


def test_before_it_touches_the_plate_is_tangent_at_the_nearest_point() -> None:
    """Referee: trimesh's nearest point on the same triangles."""
    heights = 3.0 * surface((40, 40), 0.01, "F", seed=2, low=1.0)
    ground = Ground(name="x", heights=heights, spacing=0.01, start=(0.0, 0.0))
    random = np.random.default_rng(1)
    feet = random.uniform(0.05, 0.34, (400, 3))
    feet[:, 2] = ground.height(feet[:, 0], feet[:, 1]) + random.uniform(0.009, 0.0125, 400)
    nearest, gaps, _ = trimesh.proximity.closest_point(_mesh(ground), feet)
    plates, normals = _laid(ground, feet)
    near = (gaps > RADIUS) & (gaps < RADIUS + 0.003)
    assert near.sum() > 150
    assert np.allclose(np.linalg.norm(feet - plates, axis=1)[near], gaps[near], atol=1e-9)
    assert np.allclose(plates[near], nearest[near], atol=1e-6)
    towards = (feet - plates)[near] / gaps[near, None]
    assert np.allclose(normals[near], towards, atol=1e-6)
    assert (plates[gaps > RADIUS + 0.004][:, 2] == AWAY).all()


def _wall(height: float) -> Ground:
    """A floor, and from x = 0.3 m on a plateau; the face between is one sample wide."""
    heights = np.zeros((60, 60))
    heights[30:] = height
    return Ground(name="x", heights=heights, spacing=0.01, start=(0.0, 0.0))


def test_between_floor_and_wall_both_push() -> None:
    """Formula: with depths a, b and unit normals n, m, the shortest u with n u = a, m u = b.

    Within 2 %: farther points of the same faces are asked along directions from where the
    ball is, not from where it would come free.
    """
    ground = _wall(0.1)
    slant = np.arctan2(0.1, 0.01)
    off = RADIUS * (1.0 - np.cos(slant)) / np.sin(slant)
    wall = np.array([-np.sin(slant), 0.0, np.cos(slant)])
    floor = np.array([0.0, 0.0, 1.0])
    for deep, low in ((0.001, 0.0005), (0.0015, 0.002), (0.0012, 0.0002)):
        foot = np.array([0.29 - off, 0.305, RADIUS])
        foot += np.linalg.lstsq(np.stack([-floor, -wall]), np.array([low, deep]), rcond=None)[0]
        expected = np.linalg.lstsq(np.stack([floor, wall]), np.array([low, deep]), rcond=None)[0]
        off_by = np.linalg.norm(_pushed(ground, foot[None])[0] - expected)
        assert off_by < 0.02 * np.linalg.norm(expected)


def test_over_an_edge_the_push_is_radial() -> None:
    """Formula: u = (R - d) along the line from the edge to the centre, d their distance."""
    ground = _wall(0.05)
    edge = np.array([0.3, 0.305, 0.05])
    for angle in np.radians([80.0, 100.0, 130.0, 160.0]):
        out = np.array([np.cos(angle), 0.0, np.sin(angle)])
        foot = edge + (RADIUS - 0.0013) * out
        inside = np.pi / 2 < angle < np.pi / 2 + np.arctan2(0.05, 0.01)
        expected = 0.0013 * out if inside else np.array([0.0, 0.0, RADIUS - foot[2] + 0.05])
        assert np.allclose(_pushed(ground, foot[None])[0], expected, atol=1e-7)


def test_the_least_push_that_frees_the_foot() -> None:
    """Referee: SciPy's SLSQP on the same rows, random directions and distances."""
    random = np.random.default_rng(4)
    for _ in range(60):
        count = int(random.integers(1, 9))
        normals = np.abs(random.normal(size=(count, 3))) + 0.3 * np.array([0.0, 0.0, 1.0])
        normals[:, :2] *= random.choice([-1.0, 1.0], (count, 2))
        normals /= np.linalg.norm(normals, axis=1)[:, None]
        gaps = RADIUS - random.uniform(-0.001, 0.003, count)
        gaps[0] = RADIUS - 0.001
        rows = np.concatenate([normals, gaps[:, None]], axis=1)
        found = _free(rows, count, int(np.argmin(gaps)), RADIUS)
        due = 1e3 * (RADIUS - gaps)
        best = minimize(
            lambda u: 0.5 * u @ u,
            np.array([0.0, 0.0, 10.0]),
            jac=lambda u: u,
            constraints={
                "type": "ineq",
                "fun": lambda u, n=normals, b=due: n @ u - b,
                "jac": lambda u, n=normals: n,
            },
            options={"ftol": 1e-12, "maxiter": 200},
        )
        assert (normals @ found >= RADIUS - gaps - 2e-8).all()
        if best.success:
            assert np.allclose(1e3 * found, best.x, rtol=0.0, atol=1e-4 * np.abs(best.x).max())


@pytest.mark.parametrize("seed", range(3))
def test_the_push_is_continuous_in_the_place_of_the_foot(seed: int) -> None:
    """Law: half the way, half the change; across edges, walls and corners of stepped ground.

    A jump would stay as it is when the way is halved. 2 mm deep is 1.5 times rook's weight.
    """
    ground = steps(0.055, seed=seed, length=2.0)
    random = np.random.default_rng(seed)
    shares = np.linspace(0.0, 1.0, 401)[:, None]
    worst = 0.0
    for _ in range(300):
        start, way = random.uniform([0.55, -0.8], [1.6, 0.8]), random.uniform(-0.05, 0.05, 2)
        level = ground.height(*start) + RADIUS + random.uniform(-0.002, 0.02)
        line = np.concatenate([start + shares * way, np.full((401, 1), level)], axis=1)
        push = _pushed(ground, line)
        leap = np.linalg.norm(np.diff(push, axis=0), axis=1)
        size = np.linalg.norm(push, axis=1)
        leap[(size[1:] > 0.002) | (size[:-1] > 0.002)] = 0.0
        at = int(np.argmax(leap))
        fine = line[at] + np.linspace(0.0, 1.0, 33)[:, None] * (line[at + 1] - line[at])
        worst = max(worst, np.linalg.norm(np.diff(_pushed(ground, fine), axis=0), axis=1).max())
    assert worst < 0.00004  # of 2 mm, over 5 µm of way


def test_beyond_the_edge_the_ground_goes_on_level() -> None:
    ground = Ground(name="x", heights=np.full((5, 5), 0.02), spacing=0.01, start=(0.0, 0.0))
    heights = ground.heights.copy()
    heights[0, 0] = 0.0
    ground = Ground(name="x", heights=heights, spacing=0.01, start=(0.0, 0.0))
    feet = np.array([[0.5, 0.02, 0.02 + RADIUS - 0.001]])
    plates, normals = _laid(ground, feet)
    assert np.allclose(plates[0], [0.5, 0.02, 0.02], atol=1e-9)
    assert np.allclose(normals[0], [0.0, 0.0, 1.0], atol=1e-9)
