"""Clearance: the least distance between links that are not neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError
from legwright.mechanics.gauge import FAR, Gauge, Placed, gauge_of
from legwright.mechanics.neighbours import Pairs, joint_ranges, pairs_of, random_poses
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

SAMPLES = 1000
"""Poses sampled over the joint ranges."""

NEARLY = 0.03
"""Pairs of links that come within this at random are worth a descent [m]."""

STARTS = 6
"""How many of them, nearest first."""

FINEST = 3e-5
"""Share of the joint ranges below which a descent takes no shorter steps: some micrometres."""

FEW = 8
"""Every so many poses tell at first how near links come at least."""

BLOCK = 1024
"""Poses placed at a time; keeps memory small whatever is asked."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Nearest:
    """Where two links come nearest."""

    distance: float
    """[m]; negative where they overlap, by the depth."""
    links: tuple[str, str]
    sample: int
    """Index of the pose among those asked about."""
    q: Floats
    """The pose, (J,) [rad]."""
    points: Floats
    """Nearest point on each link, body frame, (2, 3) [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Clearance:
    """How near links come to each other over a set of poses."""

    nearest: Nearest | None
    """The nearest of all; None when the robot has no pair of links to measure."""
    close: tuple[Nearest, ...]
    """For every pair of links that comes within what was asked, its nearest; nearest first."""
    left_out: tuple[str, ...]
    """Pairs that were not measured though no neighbours, and by what rule."""

    @property
    def distance(self) -> float:
        """Least distance [m]; inf when nothing was measured."""
        return np.inf if self.nearest is None else self.nearest.distance


def clearance(robot: Robot, q: ArrayLike, *, within: float = 0.0) -> Clearance:
    """How near links that are not neighbours come to each other over given poses.

    Meshes count as their convex hulls. Between samples nothing is measured: sample finely.

    Args:
        robot: The robot.
        q: Poses, (J,) or (T, J) [rad]; `Motion.q` of a cycle.
        within: Pairs of links coming nearer than this are listed one by one [m].

    Returns:
        Clearance.

    Raises:
        RequestError: if q has another number of joints.
        RobotError: if a mesh cannot be read.

    Source: distances of convex shapes by MuJoCo; bounds by enclosing capsules.
    """
    poses = np.atleast_2d(np.asarray(q, dtype=np.float64))
    if poses.ndim != 2 or poses.shape[1] != len(robot.joint_names) or not len(poses):
        raise RequestError("q", poses.shape, f"(T, {len(robot.joint_names)}) joint positions")
    if not np.isfinite(poses).all():
        raise RequestError("q", "not finite", "finite joint positions")
    hits = _hits(robot, poses, within)
    known = _told(robot, poses, [hit for hit in hits if hit[0] <= within] or hits[:1])
    return Clearance(
        nearest=known[0] if known else None,
        close=tuple(near for near in known if near.distance <= within),
        left_out=pairs_of(robot).left_out,
    )


def _hits(robot: Robot, poses: Floats, within: float) -> list[Hit]:
    """The nearest of each pair of links that may be the nearest of all or within a distance."""
    gauge, pairs = gauge_of(robot), pairs_of(robot)
    best: dict[tuple[str, str], Hit] = {}
    for start in range(0, len(poses), BLOCK):
        placed = gauge.placed(poses[start : start + BLOCK])
        _search(gauge, placed, pairs, within=within, best=best, first=start)
    return sorted(best.values(), key=lambda hit: hit[0])


def range_clearance(
    robot: Robot, *, samples: int = SAMPLES, seed: int = 0, within: float = 0.0
) -> Clearance:
    """How near links come over the whole joint ranges, each leg posed freely.

    Legs of most robots can be commanded into each other, so a negative distance is no fault
    of the build but a limit that motion must respect. Found by random poses and then
    descents from the nearest few; a still nearer pose may exist.

    Args:
        robot: The robot.
        samples: Random poses.
        seed: Of the generator.
        within: Pairs of links coming nearer than this are listed one by one [m].

    Returns:
        Clearance; `sample` counts the random poses, `q` is the pose after the descent.
    """
    poses = random_poses(robot, samples, seed)
    reach = max(within, NEARLY)
    hits = _hits(robot, poses, reach)
    found = [hit for hit in hits if hit[0] <= reach] or hits[:1]
    known = _told(robot, poses, [*found[:STARTS], *(h for h in found[STARTS:] if h[0] <= within)])
    refined = [_descend(robot, near) for near in known[:STARTS]]
    listed = sorted([*refined, *known[STARTS:]], key=lambda near: near.distance)
    return Clearance(
        nearest=listed[0] if listed else None,
        close=tuple(near for near in listed if near.distance <= within),
        left_out=pairs_of(robot).left_out,
    )


def free_share(
    robot: Robot, around: ArrayLike, *, samples: int = SAMPLES, seed: int = 0, least: float = 0.0
) -> float:
    """How far joints may leave a pose before links can meet, as a share of their ranges.

    Every joint is given the same share of its way from the pose to each of its limits; the
    answer is the largest share at which no sampled pose brings links nearer than ``least``.

    Args:
        robot: The robot.
        around: The pose, usually that of standing, (J,) [rad].
        samples: Random poses.
        seed: Of the generator.
        least: Distance that must remain [m].

    Returns:
        Share, 0 (the pose itself is too near) to 1 (the whole ranges are free), to 1/128.
    """
    lower, upper = joint_ranges(robot)
    middle = np.clip(np.asarray(around, dtype=np.float64), lower, upper)
    away = random_poses(robot, samples, seed) - middle
    if clearance(robot, middle).distance < least:
        return 0.0
    free, met = 0.0, 1.0
    if clearance(robot, middle + away).distance >= least:
        return 1.0
    while met - free > 1.0 / 128.0:
        share = 0.5 * (free + met)
        if clearance(robot, middle + share * away).distance >= least:
            free = share
        else:
            met = share
    return free


Hit = tuple[float, int, int]
"""Distance, pose, pair."""


def _search(
    gauge: Gauge,
    placed: Placed,
    pairs: Pairs,
    *,
    within: float,
    best: dict[tuple[str, str], Hit],
    first: int,
) -> None:
    """Bring up to date the nearest of each pair of links, and so the nearest of all.

    Cells (pose, pair of shapes) are measured in the order of their lower bounds. A cell is
    passed over when its bound exceeds what is known already: the least distance of all where
    that is above `within`, else the least of its pair of links or `within`. Farther distances
    are not measured to the end.
    """
    if not len(pairs.shapes):
        return
    t, p = gauge.closest(placed, pairs.shapes, FEW)
    first_hit = (gauge.distance(placed, t, pairs.shapes[p]), first + t, p)
    if pairs.links[p] not in best or first_hit < best[pairs.links[p]]:
        best[pairs.links[p]] = first_hit
    least = min(hit[0] for hit in best.values())
    at, which, bound = gauge.near(placed, pairs.shapes, max(least, within))
    order = np.argsort(bound, kind="stable")
    cells = (each[order].tolist() for each in (bound, at, which))
    for low, t, p in zip(*cells, strict=True):
        if low > max(least, within):
            break
        key = pairs.links[p]
        held = min(best[key][0] if key in best else np.inf, max(least, within))
        if low >= held:
            continue
        distance = gauge.distance(placed, t, pairs.shapes[p], min(max(held, 0.0), FAR))
        if distance < held:
            best[key] = (distance, first + t, p)
            least = min(least, distance)


def _told(robot: Robot, poses: Floats, hits: Sequence[Hit]) -> list[Nearest]:
    gauge, pairs = gauge_of(robot), pairs_of(robot)
    placed = gauge.placed(poses[[t for _, t, _ in hits]]) if hits else None
    return [
        Nearest(
            distance=distance,
            links=pairs.links[p],
            sample=t,
            q=read_only(poses[t]),
            points=read_only(gauge.points(placed, at, pairs.shapes[p])),
        )
        for at, (distance, t, p) in enumerate(hits)
        if placed is not None
    ]


def _descend(robot: Robot, start: Nearest, *, rounds: int = 40) -> Nearest:
    """Pattern search from a pose to a nearer one of the same two links, inside the limits."""
    gauge, pairs = gauge_of(robot), pairs_of(robot)
    lower, upper = joint_ranges(robot)
    shapes = pairs.of(start.links)
    moving = _movers(robot, start.links)
    ranges, share = (upper - lower)[moving], 0.1
    q, best = np.array(start.q), start.distance
    pair = shapes[0]
    turns = np.zeros((2 * len(ranges), len(q)))
    turns[:, moving] = np.concatenate([np.diag(ranges), -np.diag(ranges)])
    nearest_of = gauge.among(shapes)
    for _ in range(rounds):
        tries = np.minimum(np.maximum(q + share * turns, lower), upper)
        tries = tries[(tries != q).any(axis=1)]  # where a limit holds it, it is known
        distance, t, k = nearest_of(tries, max(best, 0.0))
        if distance < best - 1e-9:
            q, best, pair = tries[t], distance, shapes[k]
        elif share > FINEST:
            share *= 0.5
        else:
            break
    placed = gauge.placed(q[None])
    return Nearest(
        distance=best,
        links=start.links,
        sample=start.sample,
        q=read_only(q),
        points=read_only(gauge.points(placed, 0, pair)),
    )


def _movers(robot: Robot, links: tuple[str, str]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which drives move the one link against the other, (J,)."""
    tree, chains = robot.tree, []
    for link in links:
        above, at = set(), link
        while at in tree.parent_joint:
            above.add(tree.parent_joint[at])
            at = tree.joints[tree.parent_joint[at]].parent
        chains.append(above)
    drives = set()
    for name in chains[0] ^ chains[1]:
        source, times = name, 1.0
        while (mimic := tree.joints[source].mimic) is not None:
            source, times = mimic.source, times * mimic.multiplier
        if times != 0.0:
            drives.add(source)
    return np.array([name in drives for name in robot.joint_names], dtype=np.bool_)
