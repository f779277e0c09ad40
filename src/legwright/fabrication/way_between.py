"""The joints between two links: which drives move the one against the other, and how far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from legwright.robot.paths import joints_to, step_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Joint, JointKind, Tree, read_only


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
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
        at = self.rest + values @ self.share.T
        pose: Floats = np.broadcast_to(np.eye(4), (len(values), 4, 4))
        for number, (joint, upward) in enumerate(self.steps):
            move = np.broadcast_to(step_of(joint, at[:, number]), pose.shape)
            pose = pose @ (_inverse(move) if upward else move)
        return np.ascontiguousarray(pose)

    def lever(self, reach: float) -> Floats:
        """How far points of the second link move at most when a drive moves by one.

        Args:
            reach: Of those points from that link's origin [m].

        Returns:
            (drives,) [m/rad, or 1 for a slide]: sums of the lengths between joint and link.
        """
        levers = np.zeros(len(self.steps))
        beyond = reach
        for number in range(len(self.steps) - 1, -1, -1):
            joint, upward = self.steps[number]
            length = float(np.linalg.norm(joint.placement[:3, 3])) + _stroke(joint)
            arm = beyond + (length if upward else 0.0)
            levers[number] = 1.0 if joint.kind is JointKind.PRISMATIC else arm
            levers[number] *= float(joint.moves)
            beyond += length
        return np.asarray(np.abs(self.share).T @ levers)


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


def _stroke(joint: Joint) -> float:
    if joint.kind is not JointKind.PRISMATIC:
        return 0.0
    ends = [abs(end) for end in (joint.lower, joint.upper) if np.isfinite(end)]
    return max(ends, default=0.0)


def _inverse(pose: Floats) -> Floats:
    turn = np.swapaxes(pose[:, :3, :3], -1, -2)
    result = np.zeros_like(pose)
    result[:, :3, :3] = turn
    result[:, :3, 3] = -(turn @ pose[:, :3, 3:])[..., 0]
    result[:, 3, 3] = 1.0
    return result
