"""Clearance of a shell from every link that moves against it, neighbours included."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import islice, product
from types import MappingProxyType

import numpy as np

from legwright.fabrication.gap import Body, body_of, gap, gap_placed, gaps, inside
from legwright.fabrication.mesh import Mesh, normals_and_areas
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
FEW = 16
"""Every so many poses are looked at first."""
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
    for name in moving_links(robot, link):
        way = way_between(robot, link, name)
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
    names = moving_links(robot, link)
    near = _nearest_of(robot, link, tree, q, names)
    if near is not None:
        names, known = near
    else:
        known = NEAR
    best: LinkGap | None = None
    for name in names:
        way = way_between(robot, link, name)
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
    robot: Robot, link: str, tree: BoxTree, q: Floats, names: tuple[str, ...]
) -> tuple[tuple[str, ...], float] | None:
    """The link that comes nearest, none beyond `NEAR`, and a hair more than how near it comes.

    All shapes are placed at once, and those that a few poses bring near are looked at first.
    None where links meet the shell, or do not all ride on joints of legs.
    """
    hulls = hulls_of(robot) if link == robot.body else None
    if hulls is None:
        return None
    bodies: dict[str, list[Body]] = {
        name: [body_of(shape) for shape in robot.tree.links[name].shapes] for name in names
    }
    places: dict[str, list[int]] = {}
    for at, name in enumerate(hulls.links):
        places.setdefault(name, []).append(at)
    if any(len(places.get(name, ())) != len(shapes) for name, shapes in bodies.items()):
        return None
    centre, turned = hulls.riders.placed(robot, q)
    turn = turned.reshape(*turned.shape[:2], 3, 3)
    known, nearest = NEAR, ""
    rides = hulls.riders.joint
    few: list[tuple[float, str, Body, int]] = []
    for name, shapes in bodies.items():
        for body, at in zip(shapes, places[name], strict=True):
            some = slice(None, 1 if rides[at] < 0 else None, FEW)
            poses = centre[some, at].copy(), turn[some, at].copy()
            few.append((gap_placed(tree, body, *poses, most=NEAR).distance, name, body, at))
    for _, name, body, at in sorted(few, key=lambda each: each[0]):
        every = slice(None, 1 if rides[at] < 0 else None)  # what rides on the trunk stays there
        poses = centre[every, at].copy(), turn[every, at].copy()
        found = gap_placed(tree, body, *poses, most=max(known, 1e-9)).distance
        if found <= 0.0:
            return None
        if found < known:
            known, nearest = found, name
    return ((nearest,), known + ROUND) if nearest else ((), known)


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
    best = _coarse(robot, link, mesh, tree)
    known, proven = NEAR if best is None else max(best.distance, 0.0), NEAR
    blocked: dict[str, float] = {}
    for name in moving_links(robot, link):
        way = way_between(robot, link, name)
        for body in [body_of(shape) for shape in robot.tree.links[name].shapes]:
            low, at, floor = _least(tree, way, body, known)
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


def _coarse(robot: Robot, link: str, mesh: Mesh, tree: BoxTree) -> LinkGap | None:
    """The nearest link at ends and middles of all ranges."""
    best: LinkGap | None = None
    for name in moving_links(robot, link):
        way = way_between(robot, link, name)
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


def _least(tree: BoxTree, way: Way, body: Body, known: float) -> tuple[float, Floats, float]:
    """Least distance of a shape over the ranges, where, and what no pose goes below.

    Only what is nearer than ``known`` is looked for; the distance is inf where there is nothing.
    """
    point, girth = body.placement[:3, 3].copy(), body.girth
    middle = (0.5 * (way.lower + way.upper))[None]
    half = (0.5 * (way.upper - way.lower))[None]
    best, at, left, floor = known, middle[0], MOST_POSES, np.inf
    while len(middle):
        near = way.swings(middle, half, point, girth)
        room = near.room
        enough = room + max(best - PROVEN, 0.0)
        found = gaps(tree, body, near.poses, most=room + max(best, 1e-6), enough=enough, least=best)
        left -= len(middle)
        i = int(np.argmin(found))
        if found[i] < best:
            best, at = float(found[i]), middle[i]
        if found[i] <= 0.0:
            return best, at, best
        bound = found - room
        open_ = (found < enough) & (left > 0)
        if not open_.all():
            floor = min(floor, float(np.min(bound[~open_])))
        middle, half = middle[open_], half[open_].copy()
        rows, widest = np.arange(len(middle)), np.argmax(near.shares[open_], axis=1)
        half[rows, widest] *= 0.5
        shift = np.zeros_like(half)
        shift[rows, widest] = half[rows, widest]
        middle = np.concatenate([middle - shift, middle + shift])
        half = np.concatenate([half, half])
    return (best if best < known else np.inf), at, min(best, floor)


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
    bodies = [body_of(shape) for shape in robot.tree.links[other].shapes]
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
    mesh: Mesh, bodies: list[Body], poses: Floats, sample: int, points: Floats
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
