"""Nearest points, reserves, outlines and shares, against dense searches."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from chains import chain_of, plain_leg, random_chain
from shapely import LinearRing, Polygon

from legwright.mechanics.kinematics import kinematics_of
from legwright.mechanics.workspace import (
    least_reserve,
    outline,
    outward,
    reach_reserve,
    region,
    share_inside,
)
from legwright.robot.chain import Chain
from legwright.robot.leg import Leg
from legwright.robot.loading import load
from legwright.robot.tree import Floats

WILD = sorted((Path(__file__).parents[1] / "data" / "wild").glob("*.urdf"))
STATIONS = np.linspace(0.0, 1.0, 200)
COUNT = {2: 400, 3: 60, 4: 22}


def leg_of(chain: Chain) -> Leg:
    return Leg(name="leg", chain=chain, kinematics=kinematics_of(chain))


def dense_distance(leg: Leg, targets: Floats) -> Floats:
    """Referee: a dense grid of joint positions, the best ten refined by random shrinking search."""
    rng = np.random.default_rng(11)
    low, high = np.maximum(leg.lower, -np.pi), np.minimum(leg.upper, np.pi)
    ticks = np.linspace(low, high, COUNT[leg.n]).T
    grid = np.stack(np.meshgrid(*ticks, indexing="ij"), axis=-1).reshape(-1, leg.n)
    feet = leg.foot(grid)
    found = np.empty(len(targets))
    for row, target in enumerate(targets):
        gap = np.linalg.norm(feet - target, axis=1)
        found[row] = gap.min()
        for start in np.argsort(gap)[:200:20]:
            q, width = grid[start], (high - low) / COUNT[leg.n] * 1.5
            for _ in range(25):
                trial = np.clip(q + rng.uniform(-1, 1, (300, leg.n)) * width, low, high)
                trial[0] = q
                gap_here = np.linalg.norm(leg.foot(trial) - target, axis=1)
                q, width = trial[gap_here.argmin()], width * 0.7
            found[row] = min(found[row], gap_here.min())
    return found


def inner_ring(shape: Polygon, inset: float) -> LinearRing:
    inner = shape.buffer(-inset)
    parts = getattr(inner, "geoms", [inner])
    return max(parts, key=lambda part: part.area).exterior


def check_nearest(leg: Leg, count: int = 12) -> None:
    rng = np.random.default_rng(2)
    targets = leg.hip + rng.uniform(-0.5, 0.5, (300, 3))
    targets = targets[~leg.reach(targets).ok][:count]
    answer = leg.reach(targets)
    assert len(targets) == count and not answer.ok.any()
    assert np.all((answer.q >= leg.lower) & (answer.q <= leg.upper))
    found = np.linalg.norm(leg.foot(answer.q) - targets, axis=1)
    np.testing.assert_allclose(answer.error, found, atol=1e-12)
    assert np.all(answer.error <= dense_distance(leg, targets) * 1.01)


@pytest.mark.parametrize("path", WILD, ids=lambda path: path.stem)
def test_wild_legs_come_as_near_as_a_dense_search(path: Path) -> None:
    check_nearest(next(iter(load(path, kinematics_of).legs.values())))


@pytest.mark.parametrize("seed", range(5))
def test_any_closed_leg_comes_as_near_as_a_dense_search(seed: int) -> None:
    check_nearest(leg_of(random_chain(3, seed, parallel=True)))


@pytest.mark.parametrize("joints", [2, 3, 4])
@pytest.mark.parametrize("seed", [1, 2])
def test_any_other_leg_comes_as_near_as_a_dense_search(joints: int, seed: int) -> None:
    check_nearest(leg_of(random_chain(joints, seed)), count=8)


@pytest.mark.parametrize("seed", range(4))
def test_reserve_is_the_radius_of_the_ball_that_fits(seed: int) -> None:
    """Referee: the solver. All of the ball is reached; just beyond it, with this knee, not all."""
    leg = leg_of(random_chain(3, seed, parallel=True))
    rng = np.random.default_rng(seed)
    q = rng.uniform(leg.lower, leg.upper, (60, 3))
    points = leg.foot(q)
    reserve = reach_reserve(leg, points, near=q)
    assert np.all(reserve >= 0.0) and reserve.max() > 1e-3
    ways = rng.normal(size=(60, 200, 3))
    ways /= np.linalg.norm(ways, axis=-1, keepdims=True)
    ball = points[:, None] + 0.999 * reserve[:, None, None] * ways
    assert leg.reach(ball).error.max() < 1e-9


@pytest.mark.parametrize("seed", range(6))
def test_the_least_reserve_along_a_path_is_the_least_of_all(seed: int) -> None:
    """Referee: every point on its own. Paths that end at an edge, beyond it, or nowhere near."""
    leg = leg_of(random_chain(3, seed, parallel=True))
    rng = np.random.default_rng(seed)
    for _ in range(20):
        ends = leg.foot(rng.uniform(leg.lower, leg.upper, (2, 3)))
        points = ends[0] + np.linspace(0.0, 1.0, 40)[:, None] * (ends[1] - ends[0])
        every = float(reach_reserve(leg, points).min())
        assert least_reserve(leg, points) == pytest.approx(every, abs=1e-12)
        assert least_reserve(leg, points, every - 1e-3) == every - 1e-3
        assert least_reserve(leg, points, every + 1e-3) == pytest.approx(every, abs=1e-12)


def test_reserve_of_a_plain_leg_is_known() -> None:
    """Referee: geometry. A foot 10 mm short of the stretched leg, far from any limit."""
    leg = leg_of(plain_leg(0.05, 0.08, 0.12, [-1.5, -1.5, -2.5], [1.5, 1.5, 2.5]))
    reserve = reach_reserve(leg, [[0.24, 0.0, 0.0], [0.26, 0.0, 0.0]], near=[0.0, 0.2, -0.5])
    np.testing.assert_allclose(reserve, [0.01, -0.01], atol=1e-9)


def test_two_joints_have_no_reserve() -> None:
    leg = leg_of(random_chain(2, 1))
    assert np.all(reach_reserve(leg, region(leg, count=5)) == 0.0)


@pytest.mark.parametrize("path", WILD[:4], ids=lambda path: path.stem)
def test_outline_parts_reached_from_unreached(path: Path) -> None:
    """Referee: the solver, 1 mm inside and 1 mm outside of the outline (offset by shapely)."""
    leg = next(iter(load(path, kinematics_of).legs.values()))
    corners = outline(leg)
    shape = Polygon(corners)
    assert shape.is_valid and shape.exterior.is_ccw
    way = outward(leg)
    feet = leg.hip + corners[:, :1] * way
    feet[:, 2] = corners[:, 1]
    assert leg.reach(feet).error.max() < 1e-6
    for shift, wanted in ((-1e-3, True), (1e-3, False)):
        ring = shape.buffer(shift).exterior if shift > 0.0 else inner_ring(shape, -shift)
        spots = np.array([ring.interpolate(s, normalized=True).coords[0] for s in STATIONS])
        points = leg.hip + spots[:, :1] * way
        points[:, 2] = spots[:, 1]
        assert np.mean(leg.reach(points).ok == wanted) > 0.97  # grid cells cut sharp corners


def test_share_inside_counts_the_coxa_sector() -> None:
    """Referee: a leg limited in its coxa alone reaches that share of the full turn."""
    free = np.array([np.inf, np.inf, np.inf])
    full = leg_of(plain_leg(0.05, 0.08, 0.06, -free, free))
    assert share_inside(full) == 1.0
    half = leg_of(plain_leg(0.0, 0.08, 0.06, [-np.pi / 8, -9, -9], [np.pi / 8, 9, 9]))
    # the foot swings over the top, so a quarter turn serves both sides of the axis
    np.testing.assert_allclose(share_inside(half), 0.25, atol=0.02)


def test_share_of_a_surface() -> None:
    """Referee: Archimedes' hat-box theorem: a zone of a sphere has the area of its cylinder."""
    placements = np.tile(np.eye(4), (2, 1, 1))
    low, high = np.array([-1.0, -0.5]), np.array([1.0, 0.5])
    chain = chain_of(placements, [[0, 0, 1], [0, 1, 0]], [0.1, 0, 0], low, high)
    zone = 2.0 * 2.0 * np.sin(0.5)
    sphere_twice = 2.0 * 4.0 * np.pi  # the hinge's whole turn covers the sphere two times
    np.testing.assert_allclose(share_inside(leg_of(chain)), zone / sphere_twice, rtol=0.02)
