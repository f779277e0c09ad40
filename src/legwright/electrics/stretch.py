"""A stretch of cable between two fixings, across the joints that lie between them."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi

import numpy as np

from legwright.errors import RequestError
from legwright.robot.placement import inverse, shifted, turned
from legwright.robot.tree import Floats, Joint, JointKind, Tree, read_only


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Fixing:
    """Where a cable is held: a socket, a clamp or a tie."""

    link: str
    at: Floats
    """In the link's frame, (3,) [m]."""
    what: str = "tie"
    """What it is, for lists: the servo's joint, ``hub``, a load's name, or ``tie``."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stretch:
    """Two fixings and the m moving joints between them, moved by n drives.

    In the frame of the first fixing's link the second lies at
    ``P_1 J_1(q_1) ... P_m J_m(q_m) end`` with ``q = coupling @ u + offset``.
    """

    start: Floats
    """In the frame of its link, (3,) [m]."""
    end: Floats
    """In the frame of the last joint, (3,) [m]."""
    joints: tuple[str, ...]
    """Moving joints from the first fixing to the second, m names."""
    placements: Floats
    """(m, 4, 4)"""
    axes: Floats
    """(m, 3): unit axes; turned round where the joint is passed against its direction."""
    prismatic: tuple[bool, ...]
    """(m,)"""
    drives: tuple[str, ...]
    """Joints that move of their own, n names."""
    coupling: Floats
    """(m, n)"""
    offset: Floats
    """(m,) [rad or m]"""
    lower: Floats
    """(n,) [rad or m]"""
    upper: Floats
    """(n,) [rad or m]"""
    endless: tuple[str, ...] = ()
    """Joints that turn without end: the cable winds up. Their range is one full turn."""

    @property
    def moves(self) -> bool:
        """Whether any joint lies between the fixings."""
        return bool(self.joints)


def stretch_between(tree: Tree, start: Fixing, end: Fixing) -> Stretch:
    """The stretch between two fixings, with every joint that can move between them.

    Joints that belong to no leg (mast, waist) count with their whole range, wherever they are
    held while walking.

    Args:
        tree: The description.
        start: First fixing.
        end: Second fixing.

    Returns:
        The stretch; without joints where both fixings hold rigidly together.

    Raises:
        RequestError: if a link is unknown, a place is not finite, or a sliding joint between
            them has no limits.
    """
    for fixing in (start, end):
        if fixing.link not in tree.links:
            raise RequestError("link", fixing.link, f"a link of '{tree.name}'")
        if not np.all(np.isfinite(fixing.at)):
            raise RequestError("at", fixing.at.tolist(), "three finite numbers")
    moving: list[tuple[Joint, float]] = []
    placements, pending = [], np.eye(4)
    for joint, way in joints_between(tree, start.link, end.link):
        if way > 0:
            pending = pending @ joint.placement
        if joint.moves:
            placements.append(pending)
            moving.append((joint, way))
            pending = np.eye(4)
        if way < 0:
            pending = pending @ inverse(joint.placement)
    drives = tuple(dict.fromkeys(_drive(tree, joint).name for joint, _ in moving))
    coupling, offset = _coupling(tree, [joint for joint, _ in moving], drives)
    lower, upper, endless = _ranges(tree, [joint for joint, _ in moving], drives)
    return Stretch(
        start=read_only(start.at),
        end=read_only(pending[:3, :3] @ end.at + pending[:3, 3]),
        joints=tuple(joint.name for joint, _ in moving),
        placements=read_only(np.array(placements).reshape(-1, 4, 4)),
        axes=read_only(np.array([way * joint.axis for joint, way in moving]).reshape(-1, 3)),
        prismatic=tuple(joint.kind is JointKind.PRISMATIC for joint, _ in moving),
        drives=drives,
        coupling=read_only(coupling),
        offset=read_only(offset),
        lower=read_only(lower),
        upper=read_only(upper),
        endless=endless,
    )


def joints_between(tree: Tree, start: str, end: str) -> list[tuple[Joint, float]]:
    """Joints on the way from a link to another; -1 where passed from child to parent."""
    up, down = _to_root(tree, start), _to_root(tree, end)
    while up and down and up[-1].name == down[-1].name:
        up.pop()
        down.pop()
    return [(joint, -1.0) for joint in up] + [(joint, 1.0) for joint in reversed(down)]


def seen_from(tree: Tree, link: str, fixing: Fixing) -> Floats:
    """A fixing's place in another link's frame while all joints stand at zero, (3,) [m]."""
    point = fixing.at
    for joint, way in reversed(joints_between(tree, link, fixing.link)):
        turn, origin = joint.placement[:3, :3], joint.placement[:3, 3]
        point = turn @ point + origin if way > 0 else turn.T @ (point - origin)
    return point


def distances(stretch: Stretch, drives: Floats) -> Floats:
    """Straight distance between the fixings [m].

    Args:
        stretch: The stretch.
        drives: Positions of its drives, (..., n) [rad or m].

    Returns:
        (...,) [m]
    """
    q = drives @ stretch.coupling.T + stretch.offset
    point = np.broadcast_to(stretch.end, (*q.shape[:-1], 3))
    for index in reversed(range(len(stretch.joints))):
        move = shifted if stretch.prismatic[index] else turned
        pose = stretch.placements[index] @ move(stretch.axes[index], q[..., index])
        point = np.einsum("...ij,...j->...i", pose[..., :3, :3], point) + pose[..., :3, 3]
    apart: Floats = np.linalg.norm(point - stretch.start, axis=-1)
    return apart


def rates(stretch: Stretch) -> Floats:
    """Bound on how fast the distance changes with each drive, (n,) [m/rad or 1].

    A point moves no faster than its distance from the axis; counted from whichever fixing
    promises less.
    """
    travel = np.maximum(
        np.abs(stretch.coupling * stretch.lower), np.abs(stretch.coupling * stretch.upper)
    ).sum(axis=1) + np.abs(stretch.offset)
    slide = np.where(np.array(stretch.prismatic, dtype=bool), travel, 0.0)
    steps = np.linalg.norm(stretch.placements[:, :3, 3], axis=1)
    steps[:1] = np.linalg.norm(stretch.placements[:1, :3, 3] - stretch.start, axis=1)
    before = np.cumsum(steps) + np.cumsum(slide) - slide
    after = np.append(steps[1:], np.linalg.norm(stretch.end))
    after = np.cumsum((after + slide)[::-1])[::-1] - slide
    arm = np.where(np.array(stretch.prismatic, dtype=bool), 1.0, np.minimum(before, after))
    bound: Floats = np.abs(stretch.coupling).T @ arm
    return bound


def _to_root(tree: Tree, link: str) -> list[Joint]:
    found: list[Joint] = []
    while link in tree.parent_joint:
        found.append(tree.joints[tree.parent_joint[link]])
        link = found[-1].parent
    return found


def _drive(tree: Tree, joint: Joint) -> Joint:
    return joint if joint.mimic is None else tree.joints[joint.mimic.source]


def _coupling(tree: Tree, joints: list[Joint], drives: tuple[str, ...]) -> tuple[Floats, Floats]:
    coupling, offset = np.zeros((len(joints), len(drives))), np.zeros(len(joints))
    for row, joint in enumerate(joints):
        ratio = 1.0 if joint.mimic is None else joint.mimic.multiplier
        coupling[row, drives.index(_drive(tree, joint).name)] = ratio
        offset[row] = 0.0 if joint.mimic is None else joint.mimic.offset
    return coupling, offset


def _ranges(
    tree: Tree, joints: list[Joint], drives: tuple[str, ...]
) -> tuple[Floats, Floats, tuple[str, ...]]:
    """Ranges of the drives, narrowed by the joints that follow them."""
    lower = np.array([tree.joints[name].lower for name in drives])
    upper = np.array([tree.joints[name].upper for name in drives])
    turn = np.full(len(drives), pi)
    for joint in joints:
        if joint.mimic is None or joint.mimic.multiplier == 0.0:
            continue
        column = drives.index(joint.mimic.source)
        ends = (np.array([joint.lower, joint.upper]) - joint.mimic.offset) / joint.mimic.multiplier
        lower[column] = max(lower[column], ends.min())
        upper[column] = min(upper[column], ends.max())
        turn[column] = max(turn[column], pi / abs(joint.mimic.multiplier))
    endless = []
    for column, name in enumerate(drives):
        if isfinite(lower[column]) and isfinite(upper[column]):
            continue
        if tree.joints[name].kind is JointKind.PRISMATIC:
            raise RequestError(
                f"joint '{name}'", "without limits", "limited for a cable to pass it"
            )
        endless.append(name)
        lower[column], upper[column] = -turn[column], turn[column]
    return lower, upper, tuple(endless)
