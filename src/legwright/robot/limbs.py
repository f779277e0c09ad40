"""Limbs: chains of joints that might be legs."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

from legwright.robot.limb_likeness import alike, stretched
from legwright.robot.paths import below
from legwright.robot.tree import Joint, Tree

FOOT_WORDS = re.compile(r"foot|feet|(?<![a-z])(toe|tip|paw|hoof|sole|tarsus)s?(?![a-z])")
"""Names that people give to the end of a leg, in lower case."""
FOOT_BONUS = 2.0
"""A way down that leads to a link called a foot counts as this many times as long."""


@dataclass(frozen=True, slots=True, eq=False)
class Limb:
    """A chain of joints from where it branches off to its end."""

    joints: tuple[Joint, ...]
    """All joints from the first moving one to the end link, fixed ones included."""
    end: str
    """Name of the last link."""
    stiff: frozenset[str] = frozenset()
    """Names of joints among them that could move but are held, as the sheet says."""

    @property
    def moving(self) -> tuple[Joint, ...]:
        """The joints that move."""
        return tuple(j for j in self.joints if j.moves and j.name not in self.stiff)

    @property
    def drives(self) -> tuple[Joint, ...]:
        """The joints that move by a drive of their own."""
        return tuple(joint for joint in self.moving if joint.actuated)

    @property
    def base(self) -> str:
        """Name of the link that carries the limb."""
        return self.joints[0].parent

    @property
    def length(self) -> float:
        """Sum of the distances between successive joint origins and the end [m]."""
        return stretched(self.joints)

    @property
    def links(self) -> tuple[str, ...]:
        """Names of the links along it."""
        return tuple(joint.child for joint in self.joints)


def called_foot(link: str) -> bool:
    """Whether a link's name says that it is a foot."""
    words = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", link)
    return bool(FOOT_WORDS.search(words.lower()))


class Limbs:
    """The most leg-like way down from every link of a tree, found once."""

    def __init__(self, tree: Tree) -> None:
        self._tree = tree
        self._reach: dict[str, float] = {}
        self._named: dict[str, bool] = {}
        self._next: dict[str, Joint | None] = {}
        self._drives: dict[str, int] = {}
        for link in reversed([tree.root, *(joint.child for joint in below(tree, tree.root))]):
            self._weigh(link)

    def _weigh(self, link: str) -> None:
        """Choose the way on from a link whose children are all weighed."""
        joints = [self._tree.joints[name] for name in self._tree.child_joints[link]]
        best = max(joints, key=self._rank, default=None)
        self._next[link] = best
        self._drives[link] = max(
            (self._drives[joint.child] + joint.actuated for joint in joints), default=0
        )
        self._named[link] = called_foot(link) or any(self._named[j.child] for j in joints)
        self._reach[link] = 0.0 if best is None else self._length(best)

    def _length(self, joint: Joint) -> float:
        return hypot(*joint.placement[:3, 3].tolist()) + self._reach[joint.child]

    def _rank(self, joint: Joint) -> tuple[float, bool, bool]:
        """Long before short, feet before others; then what moves and what has a shape."""
        bonus = FOOT_BONUS if self._named[joint.child] else 1.0
        length = round(self._length(joint) * bonus, 9)
        return length, joint.moves, bool(self._tree.links[joint.child].shapes)

    def from_joint(self, first: Joint, most: int | None = None) -> Limb:
        """The limb that starts with a moving joint.

        Args:
            first: Its first joint.
            most: How many moving joints it may have at most; any number when None.

        Returns:
            The limb; where `most` cuts it short it ends at a link that holds rigidly together
            with the last of these joints.
        """
        joints, link, count = [first], first.child, 1
        while not self._ends_at(link, count):
            joint = self._next[link] if most is None or count < most else self._fixed(link)
            if joint is None:
                break
            joints.append(joint)
            link = joint.child
            count += joint.moves
        return Limb(tuple(joints), link)

    def _fixed(self, link: str) -> Joint | None:
        """The best way on through fixed joints."""
        joints = [self._tree.joints[name] for name in self._tree.child_joints[link]]
        return max((j for j in joints if not j.moves), key=self._rank, default=None)

    def _ends_at(self, link: str, count: int) -> bool:
        """Whether a limb ends here although more follows.

        It does at a link that is called a foot and carries several nameless fittings, and where
        several like fingers or toes of one drive begin after two or more joints.
        """
        children = [self._tree.joints[name] for name in self._tree.child_joints[link]]
        if len(children) < 2:
            return False
        driven = [joint for joint in children if joint.actuated]
        if not driven:
            return called_foot(link) and not any(j.moves or self._named[j.child] for j in children)
        lengths = [self._length(joint) for joint in driven]
        return (
            len(driven) > 1
            and count > 1
            and self._next[link] in driven
            and max(self._drives[joint.child] for joint in driven) == 0
            and max(lengths) - min(lengths) < 0.1 * max(lengths)
        )


def first_moving(tree: Tree, link: str) -> Iterator[Joint]:
    """The moving joints that a link carries, directly or through fixed joints."""
    pending = [link]
    while pending:
        for name in tree.child_joints[pending.pop()]:
            joint = tree.joints[name]
            if joint.moves:
                yield joint
            else:
                pending.append(joint.child)


def candidates(tree: Tree, limbs: Limbs) -> list[Limb]:
    """Every limb of two or more drives that does not itself carry like limbs."""
    carriers = _carriers(tree, limbs)
    found, pending = [], [tree.root]
    while pending:
        for joint in first_moving(tree, pending.pop()):
            if joint.name in carriers:
                pending.append(joint.child)
                continue
            limb = limbs.from_joint(joint)
            if len(limb.drives) > 1:
                found.append(limb)
    return found


def _carriers(tree: Tree, limbs: Limbs) -> set[str]:
    """Moving joints above a link from which two like limbs branch: waists, stands, wrists."""
    carriers: set[str] = set()
    for joint in reversed(list(below(tree, tree.root))):
        if not joint.moves:
            continue
        onward = list(first_moving(tree, joint.child))
        if any(other.name in carriers for other in onward):
            carriers.add(joint.name)
        elif len(onward) > 1:
            branches = [limb for limb in map(limbs.from_joint, onward) if len(limb.drives) > 1]
            if any(alike(a.joints, b.joints) for i, a in enumerate(branches) for b in branches[:i]):
                carriers.add(joint.name)
    return carriers
