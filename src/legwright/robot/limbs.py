"""Limbs: every chain of joints that might be a leg, and how alike two of them are."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from legwright.robot.paths import below, step_of
from legwright.robot.tree import Floats, Joint, JointKind, Tree

FOOT_WORDS = re.compile(r"foot|feet|toe|tip|paw|hoof|sole|tarsus|contact", re.IGNORECASE)
"""Names that people give to the end of a leg."""
ALIKE_LENGTH = 0.08
"""Share of the leg's length by which the parts of like legs may differ."""
ALIKE_ANGLE = 0.2
"""Radians by which the axes of like legs may differ."""


@dataclass(frozen=True, slots=True, eq=False)
class Limb:
    """A chain of joints from where it branches off to its end."""

    joints: tuple[Joint, ...]
    """All joints from the first moving one to the end link, fixed ones included."""
    end: str
    """Name of the last link."""

    @property
    def moving(self) -> tuple[Joint, ...]:
        """The joints that move."""
        return tuple(joint for joint in self.joints if joint.moves)

    @property
    def drives(self) -> tuple[Joint, ...]:
        """The joints that move by a drive of their own."""
        return tuple(joint for joint in self.joints if joint.actuated)

    @property
    def base(self) -> str:
        """Name of the link that carries the limb."""
        return self.joints[0].parent

    @property
    def length(self) -> float:
        """Sum of the distances between successive joint origins and the end [m]."""
        return sum(float(np.linalg.norm(j.placement[:3, 3])) for j in self.joints[1:])


class Limbs:
    """The most leg-like way down from every joint of a tree, found once."""

    def __init__(self, tree: Tree) -> None:
        self._tree = tree
        self._reach: dict[str, float] = {}
        self._named: dict[str, bool] = {}
        self._next: dict[str, str | None] = {}
        links = [tree.root, *(joint.child for joint in below(tree, tree.root))]
        for link in reversed(links):
            self._weigh(link)

    def _weigh(self, link: str) -> None:
        """Choose the way on from a link whose children are all weighed."""
        joints = [self._tree.joints[name] for name in self._tree.child_joints[link]]
        best = max(joints, key=self._rank, default=None)
        self._next[link] = None if best is None else best.name
        self._named[link] = bool(FOOT_WORDS.search(link)) or any(
            self._named[joint.child] for joint in joints
        )
        self._reach[link] = 0.0 if best is None else self._length(best)

    def _length(self, joint: Joint) -> float:
        return float(np.linalg.norm(joint.placement[:3, 3])) + self._reach[joint.child]

    def _rank(self, joint: Joint) -> tuple[bool, float, bool, str]:
        link = self._tree.links[joint.child]
        return (self._named[joint.child], round(self._length(joint), 9), bool(link.shapes), "")

    def from_joint(self, first: Joint) -> Limb:
        """The limb that starts with a moving joint."""
        joints, link = [first], first.child
        while (name := self._next[link]) is not None:
            if self._ends_at(link):
                break
            joints.append(self._tree.joints[name])
            link = joints[-1].child
        return Limb(tuple(joints), link)

    def _ends_at(self, link: str) -> bool:
        """Whether a link that is called a foot carries only nameless fittings."""
        if not FOOT_WORDS.search(link):
            return False
        names = self._tree.child_joints[link]
        children = [self._tree.joints[name] for name in names]
        return len(children) > 1 and not any(self._named[joint.child] for joint in children)


def first_moving(tree: Tree, link: str) -> Iterator[Joint]:
    """The moving joints that a link carries, through fixed joints, in the order of the file."""
    pending = [link]
    while pending:
        here = pending.pop(0)
        for name in tree.child_joints[here]:
            joint = tree.joints[name]
            if joint.moves:
                yield joint
            else:
                pending.append(joint.child)


def signature(limb: Limb) -> Floats:
    """What likeness is judged by: the same for mirrored limbs and for any frames and zeros.

    For each pair of successive axes their distance [m] and the angle between them [rad],
    then the distance of the end from the last axis [m].

    Args:
        limb: The limb.

    Returns:
        (2 m - 1,): m - 1 distances and the end's distance, then m - 1 angles.

    Source: the parameters a and alpha of Denavit and Hartenberg (1955), which do not depend on
    the joint positions.
    """
    moving = limb.moving
    distances, angles = [], []
    pose, axis, at = np.eye(4), moving[0].axis, np.zeros(3)
    place = np.eye(4)
    for joint in limb.joints[1:]:
        place = place @ step_of(joint, 0.0)
        if not joint.moves:
            continue
        pose = place
        other, origin = pose[:3, :3] @ joint.axis, pose[:3, 3]
        cross = np.cross(axis, other)
        sine = float(np.linalg.norm(cross))
        gap = origin - at
        apart = np.linalg.norm(np.cross(axis, gap)) if sine < 0.02 else abs(gap @ cross) / sine
        distances.append(float(apart))
        angles.append(float(np.arctan2(sine, abs(axis @ other))))
        axis, at = other, origin
    distances.append(float(np.linalg.norm(np.cross(axis, place[:3, 3] - at))))
    return np.array(distances + angles)


def alike(one: Limb, other: Limb) -> bool:
    """Whether two limbs have the same joints at nearly the same distances."""
    if [_kind(j) for j in one.moving] != [_kind(j) for j in other.moving]:
        return False
    first, second = signature(one), signature(other)
    m = len(one.moving)
    length = max(one.length, other.length)
    return bool(
        np.all(np.abs(first[:m] - second[:m]) <= ALIKE_LENGTH * length)
        and np.all(np.abs(first[m:] - second[m:]) <= ALIKE_ANGLE)
    )


def _kind(joint: Joint) -> tuple[bool, bool]:
    """Prismatic, driven: what must agree in like limbs; continuous counts as revolute."""
    return joint.kind is JointKind.PRISMATIC, joint.actuated
