"""Which limbs of a tree are its legs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from legwright.errors import RobotError
from legwright.robot.limbs import Limb, Limbs, alike, first_moving
from legwright.robot.paths import below, common_link, poses_from, step_of
from legwright.robot.tree import Floats, JointKind, Tree

SAMPLES = 256
"""Postures tried to see where a limb's end can be."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """The outcome of leg detection."""

    body: str
    """The link where the legs branch off."""
    limbs: tuple[Limb, ...]
    """The legs, in no particular order."""
    notes: tuple[str, ...]


def find_legs(tree: Tree, path: Path, *, not_legs: Sequence[str] = ()) -> Found:
    """The legs of a robot, from its description alone.

    Legs are limbs of two or more driven joints, alike in their joints and lengths, that
    together make up most of what the robot can stretch; others join them when they are about
    as long, hang at the same height and reach as low.

    Args:
        tree: The description.
        path: Its file, for errors.
        not_legs: Links and joints below which there is no leg.

    Returns:
        Body link and legs.

    Raises:
        RobotError: if there are fewer than two legs.
    """
    limbs = [limb for limb in candidates(tree) if not _named(limb, not_legs)]
    groups = _groups(limbs)
    legs: list[Limb] = []
    for group in sorted(groups, key=_weight, reverse=True):
        kept = _legs_of(tree, group)
        if len(kept) > 1:
            legs = kept
            break
    if not legs:
        raise _no_legs(tree, limbs, path)
    legs, notes = _joined(tree, legs, limbs)
    body = common_link(tree, [leg.base for leg in legs])
    return Found(body, tuple(legs), notes)


def candidates(tree: Tree) -> list[Limb]:
    """Every limb of two or more drives that is not itself a carrier of like limbs."""
    limbs = Limbs(tree)
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
            continue
        branches = [limb for limb in map(limbs.from_joint, onward) if len(limb.drives) > 1]
        if any(alike(a, b) for i, a in enumerate(branches) for b in branches[:i]):
            carriers.add(joint.name)
    return carriers


def _named(limb: Limb, names: Sequence[str]) -> bool:
    own = {name for joint in limb.joints for name in (joint.name, joint.child)}
    return not own.isdisjoint(names)


def _groups(limbs: Sequence[Limb]) -> list[list[Limb]]:
    """Limbs that are alike, directly or through others."""
    groups: list[list[Limb]] = []
    for limb in limbs:
        near = [group for group in groups if any(alike(limb, other) for other in group)]
        groups = [group for group in groups if not any(group is one for one in near)]
        groups.append([limb, *(other for group in near for other in group)])
    return groups


def _weight(group: Sequence[Limb]) -> float:
    return sum(limb.length for limb in group)


def _legs_of(tree: Tree, group: Sequence[Limb]) -> list[Limb]:
    """The members of a group of like limbs that end below or outside the body."""
    if len(group) < 2:
        return []
    body = common_link(tree, [limb.base for limb in group])
    return [limb for limb in group if stands(tree, body, limb) and not _on_top(tree, limb, group)]


def stands(tree: Tree, body: str, limb: Limb) -> bool:
    """Whether a limb's end can come well below the limb's first joint, or well outside."""
    ends = end_points(tree, body, limb)
    hip = poses_from(tree, body, {})[limb.base] @ limb.joints[0].placement
    z = up_axis(tree, body, [limb])
    down = float(np.min((ends - hip[:3, 3]) @ z))
    return down < -0.2 * limb.length


def _on_top(tree: Tree, limb: Limb, group: Sequence[Limb]) -> bool:
    """Whether a limb sits above the others and between them, as an arm would."""
    others = [other for other in group if other is not limb]
    if len(others) < 3:
        return False
    body = common_link(tree, [other.base for other in group])
    poses = poses_from(tree, body, {})
    hips = np.array([(poses[o.base] @ o.joints[0].placement)[:3, 3] for o in others])
    hip = (poses[limb.base] @ limb.joints[0].placement)[:3, 3]
    centre = hips.mean(axis=0)
    spread = float(np.max(np.linalg.norm(hips[:, :2] - centre[:2], axis=1)))
    higher = hip[2] - float(np.max(hips[:, 2]))
    inside = float(np.linalg.norm(hip[:2] - centre[:2])) < 0.6 * spread
    return inside and higher > 0.05 * limb.length


def end_points(tree: Tree, body: str, limb: Limb) -> Floats:
    """Ends of a limb at sampled postures within its limits.

    Args:
        tree: The description.
        body: Link in whose frame the points are given.
        limb: The limb.

    Returns:
        (SAMPLES, 3) [m]
    """
    rng = np.random.default_rng(20)
    start = poses_from(tree, body, {})[limb.base]
    spans = {j.name: _span(j.lower, j.upper, j.kind) for j in limb.moving}
    points = []
    for _ in range(SAMPLES):
        positions = {name: rng.uniform(*span) for name, span in spans.items()}
        pose = start
        for joint in limb.joints:
            position = positions.get(joint.name, 0.0)
            if joint.mimic is not None:
                source = positions.get(joint.mimic.source, 0.0)
                position = joint.mimic.multiplier * source + joint.mimic.offset
            pose = pose @ step_of(joint, position)
        points.append(pose[:3, 3])
    return np.array(points)


def _span(lower: float, upper: float, kind: JointKind) -> tuple[float, float]:
    half = 1.0 if kind is JointKind.PRISMATIC else np.pi
    return max(lower, min(upper, 0.0) - half), min(upper, max(lower, 0.0) + half)


def up_axis(tree: Tree, body: str, limbs: Sequence[Limb]) -> Floats:
    """The direction that is up, in a link's frame, (3,)."""
    return np.array([0.0, 0.0, 1.0])


def _joined(
    tree: Tree, legs: list[Limb], limbs: Sequence[Limb]
) -> tuple[list[Limb], tuple[str, ...]]:
    """Legs of another build that stand beside the main group."""
    return legs, ()


def _no_legs(tree: Tree, limbs: Sequence[Limb], path: Path) -> RobotError:
    if len(limbs) == 1:
        return RobotError(
            path,
            f"joint '{limbs[0].joints[0].name}'",
            "starts the only chain of joints that could be a leg; one leg cannot walk",
            "Describe the other legs, or name them under [legs] in the sheet.",
        )
    return RobotError(
        path,
        "<robot>",
        "has no legs: no two like chains of two or more driven joints that reach below the body",
        "Check joint types and limits, or name the legs under [legs] in the sheet.",
    )
