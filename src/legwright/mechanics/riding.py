"""What rides on the moving joints of the legs: links and their shapes, placed many at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics._riding import BALL, BLOCK, HULL, ROD, lowest, ridden
from legwright.mechanics.dynamics import packed
from legwright.mechanics.shapes import link_poses
from legwright.robot.hulls import hull_points
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Shape, ShapeKind

SAME = 1e-9
"""Poses that differ by less are one [m or 1]."""
AT_ONCE = 64
"""Poses whose shapes are placed at a time, where only heights are kept: they stay near the
processor."""
KINDS = {ShapeKind.SPHERE: BALL, ShapeKind.BOX: BLOCK, ShapeKind.CYLINDER: ROD}


@dataclass(frozen=True, slots=True, eq=False)
class Riders:
    """S things, each fixed to a moving joint of a leg or to the trunk."""

    joint: NDArray[np.int64]
    """(S,): place among the moving joints, leg by leg; -1: the trunk."""
    turn: Floats
    """(S, 3, 3): orientation in the joint's frame, see `Packed`."""
    shift: Floats
    """(S, 3): place there [m]."""

    def some(self, which: NDArray[np.int64]) -> Riders:
        """Some of them, in the order that is given."""
        return Riders(self.joint[which], self.turn[which], self.shift[which])

    def placed(self, robot: Robot, q: Floats) -> tuple[Floats, Floats]:
        """Places (T, S, 3) and orientations (T, S, 9), body frame.

        Args:
            robot: The robot that they ride on.
            q: Joint positions, (T, J) [rad].
        """
        centre = np.empty((len(q), len(self.joint), 3))
        turned = np.empty((len(q), len(self.joint), 9))
        poses = np.array(q, dtype=np.float64, order="C")
        ridden(packed(robot), poses, self.joint, self.turn, self.shift, centre, turned)
        return centre, turned


def trial_poses(robot: Robot) -> Floats:
    """Two poses that tell what rides where: all drives at zero, and any other, (2, J) [rad]."""
    other = np.linspace(0.3, 0.9, len(robot.joint_names))
    return np.stack([np.zeros_like(other), other])


def riders(robot: Robot, joint: Sequence[int], poses: Floats) -> Riders | None:
    """Things as riders.

    Args:
        robot: The robot.
        joint: The moving joint that carries each, see `Riders.joint`.
        poses: Theirs in the body frame, (S, 2, 4, 4), at `trial_poses`.

    Returns:
        Riders; None where something does not keep its place on its joint.
    """
    M = len(packed(robot).slides)
    frames = Riders(np.arange(M), np.tile(np.eye(3), (M, 1, 1)), np.zeros((M, 3)))
    places, turned = frames.placed(robot, trial_poses(robot))
    under = np.tile(np.eye(4), (2, M + 1, 1, 1))  # the last is the trunk's
    under[:, :M, :3, :3], under[:, :M, :3, 3] = turned.reshape(2, M, 3, 3), places
    on = np.linalg.inv(under[:, joint].swapaxes(0, 1)) @ poses
    if not len(on):
        on = np.empty((0, 2, 4, 4))
    if np.abs(on[:, 0] - on[:, 1]).max(initial=0.0) > SAME:
        return None
    return Riders(
        np.array(joint, dtype=np.int64).reshape(-1),
        np.array(on[:, 0, :3, :3], order="C"),
        on[:, 0, :3, 3].copy(),
    )


def links_placed(robot: Robot, links: Sequence[str], q: Floats) -> Floats:
    """Poses of some links in the body frame, (T, N, 4, 4); as `link_poses`, in less time.

    Args:
        robot: The robot.
        links: Their names, N of them.
        q: Joint positions, (T, J) [rad].
    """
    known = _links(robot)
    poses = np.zeros((len(q), len(links), 4, 4))
    if known is None:
        every = link_poses(robot, q)
        for number, link in enumerate(links):
            poses[:, number] = every[link]
        return poses
    names = list(robot.tree.links)
    at = np.array([names.index(link) for link in links], dtype=np.int64)
    centre, turned = known.some(at).placed(robot, q)
    poses[..., :3, :3], poses[..., :3, 3] = turned.reshape(*centre.shape, 3), centre
    poses[..., 3, 3] = 1.0
    return poses


@lru_cache(maxsize=4)
def _links(robot: Robot) -> Riders | None:
    poses, carried = _trial(robot)
    placed = [np.broadcast_to(poses[name], (2, 4, 4)) for name in robot.tree.links]
    return riders(robot, [carried[name] for name in robot.tree.links], np.array(placed))


@lru_cache(maxsize=4)
def _trial(robot: Robot) -> tuple[dict[str, Floats], Mapping[str, int]]:
    """Poses of all links at `trial_poses`, and what carries each."""
    return link_poses(robot, trial_poses(robot)), carriers(robot)


def carriers(robot: Robot) -> Mapping[str, int]:
    """Link -> place of the moving joint of a leg that carries it; -1: the trunk."""
    names = [name for leg in robot.legs.values() for name in leg.chain.moving_names]
    place = {name: at for at, name in enumerate(names)}
    found = {}
    for link in robot.tree.links:
        joint = robot.tree.parent_joint.get(link)
        while joint is not None and joint not in place:
            joint = robot.tree.parent_joint.get(robot.tree.joints[joint].parent)
        found[link] = -1 if joint is None else place[joint]
    return MappingProxyType(found)


@dataclass(frozen=True, slots=True, eq=False)
class Hulls:
    """All shapes of a robot's links, for their lowest points."""

    riders: Riders
    links: tuple[str, ...]
    """(S,): the link of each."""
    kind: NDArray[np.int64]
    size: Floats
    first: NDArray[np.int64]
    corners: Floats

    def lowest(self, robot: Robot, q: Floats, up: Floats) -> Floats:
        """Heights of the lowest points over the body's origin, (T, S) [m].

        Args:
            robot: The robot.
            q: Joint positions, (T, J) [rad].
            up: Unit vectors upwards, body frame, (T, 3).
        """
        out = np.empty((len(q), len(self.links)))
        upward = np.array(up, dtype=np.float64, order="C")
        for start in range(0, len(q), AT_ONCE):
            some = slice(start, start + AT_ONCE)
            centre, turned = self.riders.placed(robot, q[some])
            lowest(
                centre, turned, upward[some], self.kind, self.size, self.first, self.corners,
                out[some],
            )  # fmt: skip
        return out


@lru_cache(maxsize=4)
def hulls_of(robot: Robot) -> Hulls | None:
    """The shapes of a robot; None where one does not ride on a joint of a leg or on the trunk.

    Raises:
        RobotError: if a mesh cannot be read.
    """
    poses, carried = _trial(robot)
    shapes = [
        (name, shape)
        for name, link in robot.tree.links.items()
        for shape in link.shapes
        if shape.kind is not ShapeKind.MESH or shape.mesh is not None
    ]
    placed = [np.broadcast_to(poses[name] @ shape.placement, (2, 4, 4)) for name, shape in shapes]
    riding = riders(
        robot, [carried[name] for name, _ in shapes], np.array(placed).reshape(-1, 2, 4, 4)
    )
    if riding is None:
        return None
    corners = [_corners(shape) for _, shape in shapes]
    return Hulls(
        riders=riding,
        links=tuple(name for name, _ in shapes),
        kind=np.array([KINDS.get(shape.kind, HULL) for _, shape in shapes], dtype=np.int64),
        size=np.array([(*shape.size, 0.0, 0.0)[:3] for _, shape in shapes]).reshape(-1, 3),
        first=np.concatenate([[0], np.cumsum([len(each) for each in corners])]).astype(np.int64),
        corners=np.concatenate([np.empty((0, 3)), *corners]),
    )


def _corners(shape: Shape) -> Floats:
    if shape.mesh is None:
        return np.empty((0, 3))
    return hull_points(shape.mesh, shape.size)
