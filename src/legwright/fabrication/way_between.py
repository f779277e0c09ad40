"""The joints between two links: which drives move the one against the other, and how far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from legwright.fabrication._way_kernel import chained, swung
from legwright.robot.paths import joints_to
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Joint, JointKind, Tree, read_only

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Swings:
    """Poses, and how far what moves with them can be from there while drives stay near."""

    poses: Floats
    """(T, 4, 4)"""
    room: Floats
    """(T,): no point moves farther [m]."""
    shares: Floats
    """(T, drives): what each drive gives to it [m]."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Way:
    """From one link to another, joint by joint."""

    steps: tuple[tuple[Joint, bool], ...]
    """Joints in order, and whether each is passed from child to parent."""
    drives: tuple[str, ...]
    """Independent joints that move the second link against the first, in order."""
    share: Floats
    """(steps, drives): what a drive adds to each joint."""
    rest: Floats
    """(steps,): joint positions with every drive at zero."""
    lower: Floats
    """(drives,) [rad or m]; -π where unlimited."""
    upper: Floats
    """(drives,) [rad or m]; π where unlimited."""

    def poses(self, values: Floats) -> Floats:
        """Poses of the second link in the first one's frame.

        Args:
            values: Of the drives, (T, drives) [rad or m].

        Returns:
            (T, 4, 4)
        """
        return self._chained(values)[0]

    def swings(self, values: Floats, half: Floats, point: Floats, girth: float) -> Swings:
        """How far what hangs on the second link moves at most while drives stay near a pose.

        Args:
            values: Of the drives, (T, drives) [rad or m].
            half: How far each may be from that, (T, drives).
            point: Middle of what hangs on the second link, in its frame, (3,) [m].
            girth: Distance of the farthest of its points from that middle [m].

        Returns:
            Poses as `poses` gives them; the farthest that a point moves, and what each drive
            has a share in that.
        """
        pose, origin, way = self._chained(values)
        room, each = np.empty(len(pose)), np.empty((len(pose), len(self.drives)))
        half = np.ascontiguousarray(half, dtype=np.float64)
        slides = self._joints[2]
        swung(pose, origin, way, self.share, slides, half, point, girth, room, each)
        return Swings(poses=pose, room=room, shares=each)

    def _chained(self, values: Floats) -> tuple[Floats, Floats, Floats]:
        """Poses (T, 4, 4), and a point and the direction of each joint's axis (T, steps, 3)."""
        values = np.ascontiguousarray(values, dtype=np.float64)
        out = np.empty((len(values), 4, 4))
        origin, way = (np.empty((len(values), len(self.steps), 3)) for _ in range(2))
        chained(*self._joints, self.share, self.rest, values, out, origin, way)
        return out, origin, way

    @cached_property
    def _joints(self) -> tuple[Floats, Floats, Flags, Flags]:
        """Placements, axes, which slide, which are passed upward; one entry a step."""
        still, axes = np.empty((len(self.steps), 4, 4)), np.zeros((len(self.steps), 3))
        slides, upward = (np.zeros(len(self.steps), dtype=np.bool_) for _ in range(2))
        for number, (joint, up) in enumerate(self.steps):
            still[number], upward[number] = joint.placement, up
            if joint.moves:
                axes[number], slides[number] = joint.axis, joint.kind is JointKind.PRISMATIC
        return still, axes, slides, upward


def way_between(robot: Robot, start: str, end: str) -> Way:
    """The joints between two links.

    Args:
        robot: The robot.
        start: The link in whose frame the other is seen.
        end: The other link.
    """
    tree = robot.tree
    up, down = joints_to(tree, start), joints_to(tree, end)
    while up and down and up[0] is down[0]:
        up, down = up[1:], down[1:]
    steps = (*((joint, True) for joint in reversed(up)), *((joint, False) for joint in down))
    sources = [_source(tree, joint) for joint, _ in steps]
    drives = tuple(dict.fromkeys(name for name, _, _ in sources if name))
    share = np.zeros((len(steps), len(drives)))
    rest = np.zeros(len(steps))
    for number, (name, times, plus) in enumerate(sources):
        rest[number] = plus
        if name:
            share[number, drives.index(name)] = times
    lower = np.array([tree.joints[name].lower for name in drives])
    upper = np.array([tree.joints[name].upper for name in drives])
    return Way(
        steps=steps,
        drives=drives,
        share=read_only(share),
        rest=read_only(rest),
        lower=read_only(np.where(np.isfinite(lower), lower, -np.pi)),
        upper=read_only(np.where(np.isfinite(upper), upper, np.pi)),
    )


def drive_values(robot: Robot, way: Way, q: Floats) -> Floats:
    """Values of a way's drives in poses of a robot, (T, J) -> (T, drives)."""
    column: Mapping[str, int] = {name: index for index, name in enumerate(robot.joint_names)}
    return np.stack(
        [
            q[:, column[name]] if name in column else np.full(len(q), robot.held.get(name, 0.0))
            for name in way.drives
        ],
        axis=1,
    ).reshape(len(q), len(way.drives))


def _source(tree: Tree, joint: Joint) -> tuple[str, float, float]:
    """The drive behind a joint, its factor, and what is added; no drive for a fixed joint."""
    if not joint.moves:
        return "", 0.0, 0.0
    times, plus = 1.0, 0.0
    while joint.mimic is not None:
        times, plus = times * joint.mimic.multiplier, plus + times * joint.mimic.offset
        joint = tree.joints[joint.mimic.source]
    return joint.name, times, plus
