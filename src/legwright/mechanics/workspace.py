"""Where a foot can go: the region it reaches, its outline, and how near the edge a point is."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.errors import RequestError
from legwright.mechanics import _descent, _knee
from legwright.mechanics._contour import contour
from legwright.mechanics.kinematics import ClosedForm, Numeric, numeric_of
from legwright.mechanics.knee import middle_of
from legwright.robot.leg import Leg, Reach
from legwright.robot.tree import Floats, read_only

NEAR_SURFACE = 1e-3
"""How near a leg of fewer than three joints must come to a point to be drawn there [m]."""
SHARE_SAMPLES = 40_000
"""Points that the share inside the limits is estimated from, closed form."""
SHARE_SAMPLES_NUMERIC = 1_500
"""The same for the numeric solver, which takes longer."""


def region(leg: Leg, *, count: int = 20) -> Floats:
    """Foot points over an even grid of joint positions inside the limits.

    Args:
        leg: The leg.
        count: Positions per joint.

    Returns:
        (count ** n, 3): feet in the body frame [m]; unlimited joints take a whole turn.
    """
    low, high = _finite(leg)
    grid = np.meshgrid(*np.linspace(low, high, count).T, indexing="ij")
    return leg.foot(np.stack(grid, axis=-1).reshape(-1, leg.n))


def reach_reserve(leg: Leg, points: ArrayLike, near: ArrayLike | None = None) -> Floats:
    """Distance from foot points to the edge of the region reachable inside joint limits.

    The edge is where a joint meets a limit, the knee is straight or folded, or the foot is as
    near to the first axis as it gets, for the bend of the knee that holds the point. Closed
    form legs: exact to rounding. Other legs: local searches in 26 directions, an estimate that
    may be some millimetres high where the edge bends in between; 0 for legs of fewer than
    three joints, whose region is a surface.

    Args:
        leg: The leg.
        points: Foot points, (..., 3) in the body frame [m].
        near: Joint positions that tell which bend of the knee holds them, (n,) or (..., n) [rad].

    Returns:
        (...,) [m]; minus the distance to the region for points outside it.

    Raises:
        RequestError: if a shape does not fit or a value is not finite.
    """
    targets = np.asarray(points, dtype=np.float64)
    answer = leg.reach(targets, near)
    flat, q = np.ascontiguousarray(targets).reshape(-1, 3), answer.q.reshape(-1, leg.n)
    out = np.zeros(len(flat))
    solver = leg.kinematics
    if isinstance(solver, ClosedForm):
        _knee.reserve(solver.pack, flat, q, out)
    elif isinstance(solver, Numeric) and leg.n >= 3:
        _descent.reserve(
            solver.screws, solver.lower, solver.upper, flat, q, _compass(), _length(leg), out
        )
    return np.where(answer.ok, out.reshape(answer.error.shape), -answer.error)


def least_reserve(
    leg: Leg, points: Floats, beyond: float = np.inf, answer: Reach | None = None
) -> float:
    """The least `reach_reserve` of several points, in less time.

    Args:
        leg: The leg.
        points: Foot points, (N, 3) in the body frame [m].
        beyond: What is no less than this is not asked for [m].
        answer: How the leg reaches the points, where that is known already.

    Returns:
        [m]; ``beyond`` where none is less.
    """
    solver = leg.kinematics
    if isinstance(solver, ClosedForm):
        held = leg.reach(points) if answer is None else answer
        if not held.ok.all():
            return min(-float(held.error[~held.ok].max()), beyond)
        flat, q = np.ascontiguousarray(points), np.ascontiguousarray(held.q)
        return float(_knee.least_reserve(solver.pack, flat, q, beyond))
    return min(float(reach_reserve(leg, points).min()), beyond)


def outward(leg: Leg, foot: ArrayLike | None = None) -> Floats:
    """Horizontal unit direction from the hip to the nominal foot.

    Args:
        leg: The leg.
        foot: Nominal foot point, (3,) in the body frame [m]; that of the middle of all joint
            ranges when None.

    Returns:
        (3,), z = 0.
    """
    point = leg.foot(middle_of(leg.lower, leg.upper)) if foot is None else np.asarray(foot)
    for way in (point - leg.hip, leg.hip, np.array([1.0, 0.0, 0.0])):
        size = float(np.hypot(way[0], way[1]))
        if size > 1e-6:
            return np.array([way[0] / size, way[1] / size, 0.0])
    raise RequestError("foot", foot, "a point")


def outline(leg: Leg, *, foot: ArrayLike | None = None, cells: int = 96) -> Floats:
    """Outline of what the foot reaches in the leg's vertical plane, for the side view.

    Args:
        leg: The leg.
        foot: Nominal foot point that the plane goes through, see `outward`.
        cells: Grid cells along each side of the searched square.

    Returns:
        (N, 2): closed outline, the first corner not repeated: distance from the hip outward
        and height in the body frame [m]. Where the region has several parts, the largest.
    """
    way, hip = outward(leg, foot), leg.hip
    size = _length(leg) * 1.02 + 2.0 * NEAR_SURFACE
    solver = leg.kinematics
    if isinstance(solver, ClosedForm):
        frame = solver.pack[:9].reshape(3, 3)
        axes = (frame @ (hip - solver.pack[9:12]), frame @ way, frame[:, 2])
        around = _rounded([*np.concatenate(axes), hip[2], size])
        return _closed_outline(_rounded(solver.pack[12:]), around, cells).copy()

    def inside(plane: Floats) -> NDArray[np.bool_]:
        points = hip + plane[:, :1] * way
        points[:, 2] = plane[:, 1]
        return reached(leg, points)

    middle = np.array([0.0, hip[2]])
    return contour(inside, middle - size, middle + size, cells)


@lru_cache(maxsize=16)
def _closed_outline(measures: tuple[float, ...], around: tuple[float, ...], cells: int) -> Floats:
    """The outline of a leg in its own frame, as far as that goes: from its measures.

    Args:
        measures: Of the leg.
        around: Of the plane, in the leg's frame: the hip, the way outward, the way up; and the
            hip's height and half the searched square's side [m].
        cells: See `outline`.
    """
    pack = np.array([*np.eye(3).ravel(), 0.0, 0.0, 0.0, *measures])
    hip, out, up = np.array(around[:9]).reshape(3, 3)
    height, size = around[9:]

    def inside(plane: Floats) -> NDArray[np.bool_]:
        points = hip + plane[:, :1] * out + (plane[:, 1:] - height) * up
        found = np.empty(len(points), dtype=np.bool_)
        _knee.inside(pack, points, found)
        return found

    middle = np.array([0.0, height])
    return read_only(contour(inside, middle - size, middle + size, cells))


def reached(leg: Leg, points: Floats) -> NDArray[np.bool_]:
    """Which points the foot reaches inside the limits.

    Args:
        leg: The leg.
        points: (N, 3) in the body frame [m].

    Returns:
        (N,); for legs of fewer than three joints, within `NEAR_SURFACE`.
    """
    solver = leg.kinematics
    if isinstance(solver, ClosedForm):
        out = np.empty(len(points), dtype=np.bool_)
        _knee.inside(solver.pack, np.ascontiguousarray(points), out)
        return out
    answer = leg.reach(points)
    return answer.ok if leg.n >= 3 else answer.error <= NEAR_SURFACE


def share_inside(leg: Leg, *, seed: int = 1) -> float:
    """Share of the geometrically reachable region that lies inside the joint limits.

    Args:
        leg: The leg.
        seed: Of the random points that the shares are counted over.

    Returns:
        0 to 1, of the volume; for legs of fewer than three joints, of the surface that
        whole turns of the joints sweep, counted as often as it is swept.
    """
    rng = np.random.default_rng(seed)
    solver = leg.kinematics
    free = np.full(leg.n, np.inf)
    if leg.n < 3:
        return _surface_share(leg, rng)
    if isinstance(solver, ClosedForm):
        frame = solver.pack[:9].reshape(3, 3)
        hip = frame @ (leg.hip - solver.pack[9:12])
        return _closed_share(_rounded(solver.pack[12:]), _rounded([*hip, _length(leg)]), seed)
    if isinstance(solver, Numeric):
        sliding = solver.screws.coupling[solver.screws.slides].any(axis=0)
        loose = numeric_of(
            solver.screws,
            np.where(sliding, solver.lower, -free),
            np.where(sliding, solver.upper, free),
        )
    else:
        raise RequestError("leg", type(solver).__name__, "a leg solved by this package")
    points = leg.hip + rng.uniform(-1.0, 1.0, (SHARE_SAMPLES_NUMERIC, 3)) * _length(leg)
    freed = Leg(name=leg.name, chain=leg.chain, kinematics=loose)
    possible = points[reached(freed, points)]
    return float(np.mean(reached(leg, possible))) if len(possible) else 0.0


def _rounded(values: ArrayLike) -> tuple[float, ...]:
    """Measures to 1e-12: legs of one make that stand elsewhere have the same ones."""
    return tuple(np.round(np.asarray(values, dtype=np.float64), 12).tolist())


@lru_cache(maxsize=16)
def _closed_share(measures: tuple[float, ...], around: tuple[float, ...], seed: int) -> float:
    """The share of a leg in its own frame, from its measures, its hip and its length."""
    pack = np.array([*np.eye(3).ravel(), 0.0, 0.0, 0.0, *measures])
    possible, inside = _knee.shared(pack, _cube(seed), np.array(around[:3]), around[3])
    return float(inside / possible) if possible else 0.0


@lru_cache(maxsize=2)
def _cube(seed: int) -> Floats:
    """Random points of a cube, (N, 3) from -1 to 1."""
    return read_only(np.random.default_rng(seed).uniform(-1.0, 1.0, (SHARE_SAMPLES, 3)))


def _surface_share(leg: Leg, rng: np.random.Generator) -> float:
    """Share by the area of the surface that the joint ranges sweep."""
    low, high = _finite(leg)
    turn = np.pi
    wide = np.maximum(high - low, 2.0 * turn)
    areas = []
    for span, start in ((high - low, low), (wide, np.minimum(low, -turn))):
        q = start + rng.uniform(0.0, 1.0, (SHARE_SAMPLES, leg.n)) * span
        J = leg.jacobian(q)
        root = np.sqrt(np.maximum(np.linalg.det(np.swapaxes(J, -1, -2) @ J), 0.0))
        areas.append(float(root.mean() * np.prod(span)))
    return min(areas[0] / areas[1], 1.0) if areas[1] > 0.0 else 0.0


def _finite(leg: Leg) -> tuple[Floats, Floats]:
    """Joint limits with a whole turn in place of none."""
    low = np.where(np.isfinite(leg.lower), leg.lower, np.minimum(leg.upper, np.pi) - 2.0 * np.pi)
    return low, np.where(np.isfinite(leg.upper), leg.upper, low + 2.0 * np.pi)


def _length(leg: Leg) -> float:
    """Longest distance from the hip that the foot could ever have [m]."""
    links = float(np.linalg.norm(leg.chain.placements[1:, :3, 3], axis=1).sum())
    travel = np.maximum(np.abs(leg.lower), np.abs(leg.upper))
    slides = leg.chain.coupling[np.array(leg.chain.prismatic, dtype=bool)]
    reach = np.where(slides != 0.0, np.abs(slides) * travel, 0.0).sum()
    return links + float(np.linalg.norm(leg.chain.foot)) + float(reach)


def _compass() -> Floats:
    """26 directions: those of a cube's faces, edges and corners, (26, 3)."""
    steps = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    steps = steps[np.any(steps != 0.0, axis=1)]
    return np.ascontiguousarray(steps / np.linalg.norm(steps, axis=1, keepdims=True))
