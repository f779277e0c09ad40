"""Shells that move against each other: covers of legs, of the trunk, of a mast."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from legwright.fabrication._shell_gap_kernel import least_shell_gaps
from legwright.fabrication.gap import gaps, hull_of, nearest_points
from legwright.fabrication.mesh import Mesh, normals_and_areas
from legwright.fabrication.rays import BoxTree, windings
from legwright.fabrication.shell_sweep import NEAR
from legwright.fabrication.wall import spread
from legwright.fabrication.way_between import Way, drive_values, way_between
from legwright.robot.paths import rigid_with
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

RANDOM_POSES = 1000
"""Poses over the joint ranges in which two shells are measured."""
PLACES = 1500
"""Places on each shell at which the depth of an overlap is looked for."""


class Worn(NamedTuple):
    """A shell on its link."""

    name: str
    link: str
    mesh: Mesh
    """In the link's frame."""
    tree: BoxTree


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PairGap:
    """Where two shells come nearest to each other."""

    shells: tuple[str, str]
    distance: float
    """[m]; where they meet 0, or minus the depth to which places of the one lie in the other's
    material."""
    met: bool
    sample: int
    """Which of the poses asked about."""
    positions: Mapping[str, float]
    """Drives between the two -> position [rad or m]."""
    points: Floats
    """Nearest points on both, in the frame of the first one's link, (2, 3) [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PairRange:
    """Two shells in random poses over the whole ranges of the joints between them."""

    nearest: PairGap | None
    """None where they stay farther apart than `NEAR`."""
    met: float
    """Share of the poses in which they meet, 0 to 1."""


def moving_pairs(robot: Robot, shells: Sequence[Worn]) -> Iterator[tuple[Worn, Worn]]:
    """Pairs of shells whose links are not fixed to each other.

    Args:
        robot: The robot.
        shells: All of them.
    """
    rigid = {one.link: frozenset(rigid_with(robot.tree, one.link)) for one in shells}
    for one, other in combinations(shells, 2):
        if other.link not in rigid[one.link]:
            yield one, other


def pair_gap(
    robot: Robot, one: Worn, other: Worn, q: Floats, *, most: float = NEAR
) -> PairGap | None:
    """How near two shells come over given poses, both as the hollow surfaces that they are.

    Args:
        robot: The robot.
        one: The first.
        other: The second.
        q: Poses, (T, J) [rad].
        most: Larger distances are not looked for [m].

    Returns:
        The nearest of all poses, the first where they meet; None beyond ``most``.
    """
    way = way_between(robot, one.link, other.link)
    return _nearest(one, other, way, drive_values(robot, way, q), most)


def pair_range(robot: Robot, one: Worn, other: Worn) -> PairRange:
    """Two shells over the whole ranges of the joints between them, in random poses: no proof.

    Args:
        robot: The robot.
        one: The first.
        other: The second.
    """
    way = way_between(robot, one.link, other.link)
    rng = np.random.default_rng(0)
    values = rng.uniform(way.lower, way.upper, (RANDOM_POSES, len(way.drives)))
    met = surface_gaps(one.tree, other.tree, way.poses(values), most=1e-9) <= 0.0
    return PairRange(nearest=_nearest(one, other, way, values, NEAR), met=float(met.mean()))


def surface_gaps(tree: BoxTree, other: BoxTree, poses: Floats, *, most: float = NEAR) -> Floats:
    """The distance of a surface from another in every pose; inf beyond ``most``.

    Args:
        tree: Over the one.
        other: Over the other, in its own frame.
        poses: Of the other in the one's frame, (T, 4, 4).
        most: [m]

    Returns:
        (T,) [m]; 0 where they meet.
    """
    best, at = np.full(len(poses), np.inf), np.full((len(poses), 3), -1, dtype=np.int64)
    _least(tree, other, poses, most, 1, best, at)
    return best


def _least(
    tree: BoxTree, other: BoxTree, poses: Floats, most: float, each: int, best: Floats,
    at: np.ndarray[tuple[int, int], np.dtype[np.int64]],
) -> None:  # fmt: skip
    least_shell_gaps(
        tree.low, tree.high, tree.corners, other.low, other.high, other.corners,
        np.ascontiguousarray(poses[:, :3, 3]), np.ascontiguousarray(poses[:, :3, :3]), most, each,
        best, at,
    )  # fmt: skip


def _nearest(one: Worn, other: Worn, way: Way, values: Floats, most: float) -> PairGap | None:
    poses = way.poses(values)
    best, at = np.full(1, np.inf), np.full((1, 3), -1, dtype=np.int64)
    _least(one.tree, other.tree, poses, most, 0, best, at)
    sample, first, second = (int(number) for number in at[0])
    if sample < 0:
        return None
    distance, pose = float(best[0]), poses[sample]
    met = distance <= 0.0
    triangle = hull_of(other.tree.corners[second])
    points = nearest_points(one.tree.corners[first], triangle, pose)
    return PairGap(
        shells=(one.name, other.name),
        distance=-_depth(one, other, pose) if met else distance,
        met=met,
        sample=sample,
        positions=MappingProxyType(
            {name: float(value) for name, value in zip(way.drives, values[sample], strict=True)}
        ),
        points=points,
    )


def _depth(one: Worn, other: Worn, pose: Floats) -> float:
    """How deep the deepest of many places of each shell lies in the other's material [m]."""
    return max(_buried(one, other, pose), _buried(other, one, np.asarray(np.linalg.inv(pose))), 0.0)


def _buried(host: Worn, guest: Worn, pose: Floats) -> float:
    _, area = normals_and_areas(guest.mesh)
    places, _ = spread(guest.mesh, area, PLACES)
    spots = np.concatenate([guest.mesh.points[:PLACES], places]) @ pose[:3, :3].T + pose[:3, 3]
    low, high = host.mesh.points.min(axis=0), host.mesh.points.max(axis=0)
    spots = spots[((spots >= low) & (spots <= high)).all(axis=1)]
    if not len(spots):
        return 0.0
    corners = host.mesh.corners
    piece = np.zeros(len(corners), dtype=np.int64)
    inside = windings(corners, spots, piece, np.full(len(spots), -1, dtype=np.int64)) > 0
    if not inside.any():
        return 0.0
    at = np.tile(np.eye(4), (int(inside.sum()), 1, 1))
    at[:, :3, 3] = spots[inside]
    point = hull_of(np.zeros((1, 3)))
    return float(gaps(host.tree, point, at, most=NEAR).max())
