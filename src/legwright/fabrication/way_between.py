"""The joints between two links: which drives move the one against the other, and how far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from legwright.fabrication._way_kernel import STEP, chained
from legwright.robot.paths import joints_to
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Joint, JointKind, Tree, read_only


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
        values = np.ascontiguousarray(values, dtype=np.float64)
        out = np.empty((len(values), 4, 4))
        chained(self.packed, values, out)
        return out

    @cached_property
    def packed(self) -> Floats:
        """The joints as kernels take them, see `_way_kernel.chain`."""
        rows = np.zeros((len(self.steps), STEP + len(self.drives)))
        for row, (joint, upward) in zip(rows, self.steps, strict=True):
            row[:12], row[16] = joint.placement[:3].ravel(), upward
            if joint.moves:
                row[12:15], row[15] = joint.axis, joint.kind is JointKind.PRISMATIC
        rows[:, 17], rows[:, STEP:] = self.rest, self.share
        return rows


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
    return _first_of(
        _Alike(
            Way(
                steps=steps,
                drives=drives,
                share=read_only(share),
                rest=read_only(rest),
                lower=read_only(np.where(np.isfinite(lower), lower, -np.pi)),
                upper=read_only(np.where(np.isfinite(upper), upper, np.pi)),
            )
        )
    )


class _Alike:
    """A way, equal to others by the same drives through the same places."""

    def __init__(self, way: Way) -> None:
        self.way = way
        rows = (way.packed, way.lower, way.upper)
        self.content = (way.drives, *(each.tobytes() for each in rows))

    def __hash__(self) -> int:
        return hash(self.content)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Alike) and self.content == other.content


@lru_cache(maxsize=64)
def _first_of(alike: _Alike) -> Way:
    """One for all that are alike, so that what is remembered of it outlasts edits of others."""
    return alike.way


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
