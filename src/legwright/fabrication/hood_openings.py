"""Openings that a cover needs: for legs through their ranges, and for a mast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from legwright.fabrication._swept_kernel import near_points, reaching
from legwright.mechanics.riding import links_placed
from legwright.mechanics.solids import solids_of
from legwright.robot.paths import rigid_with
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

GRID = 11
"""Positions of each joint that are tried, over its range."""
PITCH = 1e-2
"""Distance between points looked at on a link [m]."""
PIECES = 4
"""Into which a link's shapes are cut where it is asked whether they come near at all."""
SPARE = 1e-6
"""They get so much more room, since points on a link are rounded [m]."""
AWAY = 1.0
"""How far openings reach outward [m]."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Prism:
    """An upright opening."""

    outline: Floats
    """Convex, in plan, (N, 2) [m]."""
    low: float
    """[m]"""
    high: float
    """[m]"""

    def holds(self, spots: Floats, within: float) -> NDArray[np.bool_]:
        """Whether places in plan (N, 2) lie in it or closer than a distance to its sides, (N,)."""
        planes = self._sides
        return np.asarray((spots @ planes[:, :2].T + planes[:, 2] < within).all(axis=1))

    @cached_property
    def _sides(self) -> Floats:
        """Outward normals of the hull's sides, and their offsets, (S, 3)."""
        from scipy.spatial import ConvexHull

        return np.asarray(ConvexHull(self.outline).equations)


def leg_openings(robot: Robot, outer: Floats, gap: float) -> list[Prism]:
    """One opening for each leg that comes near a convex cover.

    A leg's first links are moved through the whole ranges of the first two joints; every point
    of theirs that comes within the gap of the cover must lie in the opening: an octagon in
    plan, turned with the leg, open outward and downward. Shins are left to the clearance check.

    Args:
        robot: The robot.
        outer: Corners of the cover, (N, 3), body frame [m].
        gap: Distance to keep [m].
    """
    found, swept = [], _swept(robot, outer, gap)
    for name, leg in robot.legs.items():
        near = swept[name]
        if not len(near):
            continue
        out = leg.foot(np.clip(0.0, leg.lower, leg.upper))[:2] - leg.hip[:2]
        turn = float(np.arctan2(out[1], out[0]))
        found.append(
            Prism(
                outline=_octagon(near[:, :2], turn, gap, outward=True),
                low=float(outer[:, 2].min() - AWAY),
                high=float(near[:, 2].max() + gap),
            )
        )
    return found


def mast_openings(robot: Robot, outer: Floats, gap: float) -> list[Prism]:
    """Openings for links that are carried by the trunk beside the legs and reach through it."""
    tree = robot.tree
    legs = {n for leg in robot.legs.values() for n in (*leg.chain.link_names, leg.chain.foot_link)}
    rigid = set(rigid_with(tree, robot.body))
    found = []
    names = [
        name
        for name, link in tree.links.items()
        if name not in legs and name not in rigid and link.shapes
    ]
    poses = links_placed(robot, names, np.zeros((1, len(robot.joint_names))))[0]
    for name, pose in zip(names, poses, strict=True):
        near = _near(_points_on(_solids(robot, name)), pose[None], outer, gap)
        if len(near):
            found.append(
                Prism(
                    outline=_octagon(near[:, :2], 0.0, gap, outward=False),
                    low=float(near[:, 2].min()),
                    high=float(outer[:, 2].max() + AWAY),
                )
            )
    return found


def _swept(robot: Robot, outer: Floats, gap: float) -> dict[str, Floats]:
    """Leg -> points of its first links, over its first two joints, within a gap of a cover."""
    clouds: dict[str, list[Floats]] = {name: [np.empty((0, 3))] for name in robot.legs}
    for depth in (1, 2):
        legs = {name: leg for name, leg in robot.legs.items() if leg.n >= depth}
        links = [leg.chain.link_names[depth - 1] for leg in legs.values()]
        placed = links_placed(robot, links, _grid(robot, depth))
        for number, (name, link) in enumerate(zip(legs, links, strict=True)):
            solids = _solids(robot, link)
            pose = np.ascontiguousarray(placed[:, number])
            near = reaching(_boxes(solids), pose, _planes(outer.tobytes()), float(gap) + SPARE)
            if near.any():
                clouds[name].append(_near(_points_on(solids), pose[near], outer, gap))
    return {name: np.concatenate(cloud) for name, cloud in clouds.items()}


def _grid(robot: Robot, depth: int) -> Floats:
    """Poses of all legs at once over the ranges of their first joints, the others at rest."""
    share = np.linspace(0.0, 1.0, GRID)
    grid = np.stack(np.meshgrid(*[share] * depth, indexing="ij"), axis=-1).reshape(-1, depth)
    q = np.empty((len(grid), len(robot.joint_names)))
    for name, leg in robot.legs.items():
        low = np.where(np.isfinite(leg.lower), leg.lower, -np.pi)
        high = np.where(np.isfinite(leg.upper), leg.upper, np.pi)
        values = np.tile(np.clip(0.0, low, high), (len(grid), 1))
        moved = slice(0, min(depth, leg.n))
        values[:, moved] = low[moved] + grid[:, moved] * (high - low)[moved]
        q[:, robot.columns[name]] = values
    return q


def _solids(robot: Robot, link: str) -> tuple[bytes, ...]:
    """Corners of the shapes of a link, link frame."""
    return tuple(np.ascontiguousarray(corners).tobytes() for corners, _ in solids_of(robot, link))


@lru_cache(maxsize=32)
def _boxes(solids: tuple[bytes, ...]) -> Floats:
    """Boxes that hold solids, each cut across into a few: middles and half edges, (B, 2, 3)."""
    boxes = []
    for solid in solids:
        corners = np.frombuffer(solid).reshape(-1, 3)
        low, high = corners.min(axis=0), corners.max(axis=0)
        middle, half = 0.5 * (low + high), 0.5 * (high - low)
        longest = int(np.argmax(half))
        for share in (2.0 * np.arange(PIECES) + 1.0) / PIECES - 1.0:
            at, size = middle.copy(), half.copy()
            at[longest] += share * half[longest]
            size[longest] /= PIECES
            boxes.append((at, size))
    return np.array(boxes).reshape(-1, 2, 3)


@lru_cache(maxsize=32)
def _points_on(solids: tuple[bytes, ...]) -> Floats:
    """Points all over solids, no further apart than `PITCH`; links of legs are alike."""
    from scipy.spatial import ConvexHull

    clouds = []
    for solid in solids:
        corners = np.frombuffer(solid).reshape(-1, 3)
        triangles = corners[ConvexHull(corners).simplices]
        for a, b, c in triangles:
            longest = max(np.linalg.norm(b - a), np.linalg.norm(c - b), np.linalg.norm(a - c))
            n = max(1, int(np.ceil(longest / PITCH)))
            i, j = np.nonzero(np.add.outer(np.arange(n + 1), np.arange(n + 1)) <= n)
            clouds.append(a + np.outer(i / n, b - a) + np.outer(j / n, c - a))
    return read_only(np.unique(np.round(np.concatenate(clouds), 9), axis=0))


def _near(points: Floats, poses: Floats, outer: Floats, within: float) -> Floats:
    """Points of a link in poses (T, 4, 4) that lie less than a distance outside a convex hull."""
    low, high = outer.min(axis=0), outer.max(axis=0)
    moved = np.array(poses, dtype=np.float64, order="C")
    planes = _planes(outer.tobytes())
    return np.asarray(near_points(points, moved, low, high, planes, float(within)))


@lru_cache(maxsize=4)
def _planes(outer: bytes) -> Floats:
    """Planes of the convex hull of corners, by their bytes, each once."""
    from scipy.spatial import ConvexHull

    hull = ConvexHull(np.frombuffer(outer).reshape(-1, 3))
    return read_only(np.unique(np.round(hull.equations, 9), axis=0))


def _octagon(flat: Floats, turn: float, gap: float, *, outward: bool) -> Floats:
    """The octagon around points in plan, with a gap; open to where it is turned, if asked."""
    angles = turn + np.arange(8) * np.pi / 4.0
    ways = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    reach = (flat @ ways.T).max(axis=0) + gap
    if outward:
        middle = flat.mean(axis=0)
        sides: Sequence[int] = (0, 1, 7)
        for side in sides:
            reach[side] = float(middle @ ways[side]) + AWAY
    after = np.roll(np.arange(8), -1)
    sides_met = np.stack([ways, ways[after]], axis=1)
    return np.linalg.solve(sides_met, np.stack([reach, reach[after]], axis=1)[..., None])[..., 0]
