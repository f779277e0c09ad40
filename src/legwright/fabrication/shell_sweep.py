"""Clearance of a shell from every link that moves against it, neighbours included."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice, product
from math import floor
from types import MappingProxyType

import numpy as np

from legwright.fabrication.gap import (
    Body,
    body_of,
    gap,
    gaps,
    inside,
    nearest_placed,
    pieces,
    placed,
    ranged_gap,
)
from legwright.fabrication.mesh import Indices, Mesh, normals_and_areas
from legwright.fabrication.rays import BoxTree
from legwright.fabrication.wall import spread
from legwright.fabrication.way_between import Way, drive_values, way_between
from legwright.mechanics.riding import hulls_of
from legwright.robot.paths import rigid_with
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

NEAR = 0.06
"""Links that stay further away than this are not told apart [m]."""
PROVEN = 0.5e-3
"""A least distance over the joint ranges is proven to this [m]."""
MOST_POSES = 20_000
"""Poses tried for one link before the search ends without proof."""
SHARES = 0.25 ** np.arange(1, 9)
"""Steps of a drive that lead from a near pose to a nearer one, over its range."""
MOST_STEPS = 40
STALLED = 1e-8
"""Steps that bring less are not made [m]."""
FEW = 16
"""Every so many poses are looked at first."""
DIGITS = 9
"""Of positions by which distances are remembered: less than `ROUND` on a link within a metre."""
LEVEL = 2.5e-4
"""Distances are remembered up to multiples of this [m]."""
SPARE = 6e-3
"""Links that two joints move are looked for so much farther away than the nearest [m]."""
ROUND = 1e-9
"""What is known already is found again within this [m]."""
DEPTH_PLACES = 4000
"""Places on a shell at which the depth of an overlap is looked for."""
SHARE_POSES = 500
"""Random poses that tell which share of the ranges is blocked."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LinkGap:
    """Where one link comes nearest to a shell."""

    link: str
    distance: float
    """[m]; negative: the depth to which places of the shell lie inside the link; inf where
    further than `NEAR`."""
    sample: int
    """Which of the poses asked about; -1 for a search over the ranges."""
    positions: Mapping[str, float]
    """Drives between the two -> position [rad or m]."""
    points: Floats
    """Nearest points on shell and link, in the frame of the shell's link, (2, 3) [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class RangeGap:
    """The least distance from all moving links over the whole joint ranges."""

    nearest: LinkGap | None
    """None when nothing that moves comes within `NEAR`."""
    proven: float
    """No pose brings any link nearer than this [m]; -inf where one can be met."""
    blocked: Mapping[str, float]
    """Link that can be met -> share of random poses at which it is, 0 to 1."""


def moving_links(robot: Robot, link: str) -> tuple[str, ...]:
    """Links with shapes that move against a link, in the order of the description."""
    rigid = set(rigid_with(robot.tree, link))
    return tuple(
        name for name, other in robot.tree.links.items() if name not in rigid and other.shapes
    )


@lru_cache(maxsize=4)
def _bodies(robot: Robot) -> Mapping[str, tuple[Body, ...]]:
    """Link -> its shapes, ready to be measured."""
    links = robot.tree.links.items()
    return {name: tuple(map(body_of, link.shapes)) for name, link in links}


def pose_gaps(robot: Robot, link: str, mesh: Mesh, tree: BoxTree, q: Floats) -> tuple[LinkGap, ...]:
    """How near every link comes to a shell over given poses, nearest first.

    The shell counts as the hollow surface that it is, each shape of a link as convex.

    Args:
        robot: The robot.
        link: The link that carries the shell.
        mesh: The shell, in that link's frame.
        tree: Over it.
        q: Poses, (T, J) [rad].

    Returns:
        One entry for each link.

    Raises:
        RobotError: if a link's mesh cannot be read.
    """
    found = []
    for name, way in _ways(robot, link).items():
        values = drive_values(robot, way, q)
        poses = way.poses(values)
        best = _nearest(robot, name, mesh, tree, way, values, poses)
        found.append(best)
    return tuple(sorted(found, key=lambda one: one.distance))


def nearest_gap(robot: Robot, link: str, mesh: Mesh, tree: BoxTree, q: Floats) -> LinkGap | None:
    """How near the nearest link comes to a shell over given poses; as `pose_gaps`, but quicker.

    Returns:
        The nearest of all; None when none comes within `NEAR`.
    """
    ways = _ways(robot, link)
    names = tuple(ways)
    near = _nearest_of(robot, link, tree, q, ways)
    if near is not None:
        names, known = near
    else:
        known = NEAR
    best: LinkGap | None = None
    for name in names:
        way = ways[name]
        values = _moving(drive_values(robot, way, q))
        most = known if best is None else max(best.distance, 0.0)
        found = _nearest(robot, name, mesh, tree, way, values, way.poses(values), most=most)
        if found.sample >= 0 and (best is None or found.distance < best.distance):
            best = found
    return best


def _moving(values: Floats) -> Floats:
    """Values of drives; once where they are the same in all poses."""
    return values[:1] if (values == values[:1]).all() else values


def _nearest_of(
    robot: Robot, link: str, tree: BoxTree, q: Floats, ways: Mapping[str, Way]
) -> tuple[tuple[str, ...], float] | None:
    """The link that comes nearest, none beyond `NEAR`, and a hair more than how near it comes.

    All shapes are placed at once, and those that a few poses bring near are looked at first.
    None where links meet the shell, or do not all ride on joints of legs.
    """
    hulls = hulls_of(robot) if link == robot.body else None
    if hulls is None:
        return None
    bodies = _bodies(robot)
    places: dict[str, list[int]] = {}
    for at, name in enumerate(hulls.links):
        places.setdefault(name, []).append(at)
    if any(len(places.get(name, ())) != len(bodies[name]) for name in ways):
        return None
    each = [(name, *pair) for name in ways for pair in zip(bodies[name], places[name], strict=True)]
    centre, turn = hulls.riders.placed(robot, q)

    def least(body: Body, at: int, order: Indices, most: float, spare: float = 0.0) -> float:
        some = order if hulls.riders.joint[at] >= 0 else order[:1]  # what the trunk carries stays
        return nearest_placed(
            tree, body, centre, turn, which=at, order=some, most=max(most, 1e-9), spare=spare
        )[0]

    few, known, nearest = [], NEAR, ""
    every = np.arange(len(q))
    for _, body, at in each:
        few.append(least(body, at, every[::FEW].copy(), known))
        known = min(known, few[-1])
    known += ROUND
    for i in np.argsort(few, kind="stable"):
        name, body, at = each[i]
        order, spare, drives = every, 0.0, len(ways[name].drives)
        if hulls.riders.joint[at] >= 0 and drives == 1:
            turns = np.round(drive_values(robot, ways[name], q), DIGITS).tobytes()
            if _turned(tree, body, ways[name], turns, _level(known)) >= known + ROUND:
                continue
        elif drives == 2:
            order = np.argsort(drive_values(robot, ways[name], q)[:, 0], kind="stable")
            spare = SPARE
        found = least(body, at, order, known, spare)
        if found <= 0.0:
            return None
        if found < known:
            known, nearest = found, name
    return ((nearest,), known + ROUND) if nearest else ((), known)


def _level(distance: float) -> float:
    """A little more than a distance; the same for most that are about as large [m]."""
    return (floor(distance / LEVEL) + 1.0) * LEVEL


@lru_cache(maxsize=64)
def _turned(tree: BoxTree, body: Body, way: Way, turns: bytes, most: float) -> float:
    """The least distance of a shape that one drive moves, or ``most`` if that is less [m].

    Remembered: edits of what the link carries leave the shell, the link, and often how far it
    is turned, as they were.
    """
    poses = way.poses(np.frombuffer(turns).reshape(-1, 1))
    return min(nearest_placed(tree, body, *placed(body, poses), most=most)[0], most)


@lru_cache(maxsize=4)
def _ways(robot: Robot, link: str) -> Mapping[str, Way]:
    """From a link to each that moves against it."""
    return {name: way_between(robot, link, name) for name in moving_links(robot, link)}


def range_gap(robot: Robot, link: str, mesh: Mesh, tree: BoxTree) -> RangeGap:
    """The least distance of a shell from all links over the whole ranges of the joints between.

    Boxes of joint positions are halved until each is shown to hold nothing nearer: the distance
    at its middle less how far the link can move within the box. A link that can meet the shell is
    followed no further than the first such pose.

    Args:
        robot: The robot.
        link: The link that carries the shell.
        mesh: The shell, in that link's frame.
        tree: Over it.

    Returns:
        The nearest pose found, what is proven, and how often links meet the shell.

    Source: branch and bound with a Lipschitz bound; Piyavskii, USSR Comput. Math. Math. Phys.
    12(4):57-67, 1972 (from memory).
    """
    bodies = _bodies(robot)
    ways = _ways(robot, link)
    best = _coarse(robot, mesh, tree, ways)
    known, proven = NEAR if best is None else max(best.distance, 0.0), NEAR
    blocked: dict[str, float] = {}
    for name, way in ways.items():
        for body in bodies[name]:
            low, at, floor = _least(tree, body, way, known)
            proven = min(proven, floor)
            if not np.isfinite(low):
                continue
            values = at[None]
            found = _nearest(robot, name, mesh, tree, way, values, way.poses(values))
            if low <= 0.0:
                blocked[name] = max(blocked.get(name, 0.0), _met(tree, way, body))
            if best is None or found.distance < best.distance:
                best = replace(found, sample=-1)
            known = max(min(known, low), 0.0)
    return RangeGap(
        nearest=best,
        proven=-np.inf if blocked else proven,
        blocked=MappingProxyType(blocked),
    )


def own_gap(robot: Robot, link: str, mesh: Mesh, tree: BoxTree) -> LinkGap | None:
    """How near a shell comes to the shapes that it is fixed to; None beyond `NEAR`.

    Args:
        robot: The robot.
        link: The link that carries the shell.
        mesh: The shell, in that link's frame.
        tree: Over it.
    """
    best: LinkGap | None = None
    for name in rigid_with(robot.tree, link):
        way = way_between(robot, link, name)
        values = np.zeros((1, len(way.drives)))
        found = _nearest(robot, name, mesh, tree, way, values, way.poses(values))
        if found.sample >= 0 and (best is None or found.distance < best.distance):
            best = found
    return best


def _coarse(robot: Robot, mesh: Mesh, tree: BoxTree, ways: Mapping[str, Way]) -> LinkGap | None:
    """The nearest link at ends and middles of all ranges."""
    best: LinkGap | None = None
    for name, way in ways.items():
        ends = zip(way.lower, way.upper, strict=True)
        steps = [(low, 0.5 * (low + high), high) for low, high in ends]
        values = np.array(list(islice(product(*steps), 3**6)))
        most = NEAR if best is None else max(best.distance, 0.0)
        found = _nearest(robot, name, mesh, tree, way, values, way.poses(values), most=most)
        if found.sample >= 0 and (best is None or found.distance < best.distance):
            best = replace(found, sample=-1)
    return best


def _met(tree: BoxTree, way: Way, body: Body) -> float:
    """Share of random poses at which a shape meets the shell."""
    rng = np.random.default_rng(0)
    some = rng.uniform(way.lower, way.upper, size=(SHARE_POSES, len(way.drives)))
    return float(np.mean(gaps(tree, body, way.poses(some), most=1e-9) <= 1e-9))


@lru_cache(maxsize=64)
def _least(tree: BoxTree, body: Body, way: Way, known: float) -> tuple[float, Floats, float]:
    """As `ranged_gap`, of a shape piece by piece, and the nearest pose followed to its end.

    Remembered: of links that an edit leaves as they were it is often asked again.
    """
    best, at, proven = np.inf, np.empty(0), known
    for piece in pieces(body):
        most = min(best, known)
        low, here, floor = ranged_gap(tree, piece, way, most=most, exact=PROVEN, poses=MOST_POSES)
        proven = min(proven, floor)
        if low < np.inf:
            best, at = low, here
        if low <= 0.0:
            return best, at, proven
    return (*_followed(tree, body, way, best, at), proven) if len(at) else (best, at, proven)


def _followed(tree: BoxTree, body: Body, way: Way, best: float, at: Floats) -> tuple[float, Floats]:
    """A nearer pose of a shape than a given one, one drive after the other as far as that goes."""
    span = np.diag(way.upper - way.lower)
    steps = np.concatenate([sign * share * span for share in SHARES for sign in (-1.0, 1.0)])
    for _ in range(MOST_STEPS):
        tries = np.clip(at + steps, way.lower, way.upper)
        poses = placed(body, way.poses(tries))
        found, which, _ = nearest_placed(tree, body, *poses, most=max(best - STALLED, 1e-9))
        if which < 0:
            break
        best, at = found, tries[which]
        if best <= 0.0:
            break
    return best, at


def _nearest(
    robot: Robot,
    other: str,
    mesh: Mesh,
    tree: BoxTree,
    way: Way,
    values: Floats,
    poses: Floats,
    *,
    most: float = NEAR,
) -> LinkGap:
    """The nearest of all poses; where the two meet, the deepest; none beyond ``most``."""
    bodies = _bodies(robot)[other]
    best, sample, points = np.inf, -1, np.full((2, 3), np.nan)
    for body in bodies:
        found = gap(tree, body, poses, most=max(min(best, most), 1e-9))
        if found.distance < best:
            best, sample, points = found.distance, found.pose, np.array(found.points)
    if best <= 0.0:
        depth, sample, points = _deepest(mesh, bodies, poses, sample, points)
        best = min(-depth, 0.0)
    shown = max(sample, 0)
    return LinkGap(
        link=other,
        distance=float(best),
        sample=sample,
        positions=MappingProxyType(
            {name: float(value) for name, value in zip(way.drives, values[shown], strict=True)}
        ),
        points=points,
    )


def _deepest(
    mesh: Mesh, bodies: Sequence[Body], poses: Floats, sample: int, points: Floats
) -> tuple[float, int, Floats]:
    """Depth of the deepest place of the shell in a link, the pose, and that place twice."""
    _, area = normals_and_areas(mesh)
    places, _ = spread(mesh, area, DEPTH_PLACES)
    places = np.concatenate([mesh.points[:DEPTH_PLACES], places])
    best, at, where = 0.0, sample, points
    for body in bodies:
        for number in range(len(poses)):
            depth = inside(body, places, poses[number : number + 1])
            i = int(np.argmax(depth))
            if depth[i] > best:
                best, at, where = float(depth[i]), number, np.stack([places[i], places[i]])
    return best, at, where
