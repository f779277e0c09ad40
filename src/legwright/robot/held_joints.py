"""Joints that belong to no leg: where they are held."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from legwright.errors import RobotError, did_you_mean
from legwright.robot.limbs import Limb
from legwright.robot.paths import below, joints_to
from legwright.robot.tree import Joint, Tree


def held_positions(
    tree: Tree, limbs: Sequence[Limb], wanted: Mapping[str, float], source: Path
) -> dict[str, float]:
    """Where each moving joint that belongs to no leg is held.

    Args:
        tree: The description.
        limbs: The legs.
        wanted: Joint name -> position asked for by the sheet [rad or m].
        source: The sheet, for errors.

    Returns:
        Joint name -> position: as asked for, else zero or the limit nearest to it; mimic
        joints follow their source.

    Raises:
        RobotError: if the sheet asks for an unknown joint, a leg's joint or a position outside
            its limits.
    """
    in_legs = {joint.name for limb in limbs for joint in limb.moving}
    free = {j.name: j for j in tree.joints.values() if j.name not in in_legs and j.moves}
    _check_wanted(wanted, free, in_legs, source)
    held = {
        name: min(max(wanted.get(name, 0.0), joint.lower), joint.upper)
        for name, joint in free.items()
        if joint.actuated
    }
    for name, joint in free.items():
        if joint.mimic is not None:
            start = held.get(joint.mimic.source, 0.0)
            held[name] = joint.mimic.multiplier * start + joint.mimic.offset
    return held


def _check_wanted(
    wanted: Mapping[str, float], free: Mapping[str, Joint], in_legs: set[str], source: Path
) -> None:
    driven = [name for name, joint in free.items() if joint.actuated]
    for name, position in wanted.items():
        key = f"held.{name}"
        if name in in_legs:
            raise RobotError(source, key, "belongs to a leg", "Hold joints outside the legs only.")
        if name not in driven:
            cure = did_you_mean(name, driven) if driven else "All driven joints belong to legs."
            raise RobotError(source, key, "is no driven joint outside the legs", cure)
        joint = free[name]
        if not joint.lower - 1e-9 <= position <= joint.upper + 1e-9:
            raise RobotError(
                source,
                key,
                f"is {position:.4g} rad, outside the limits {joint.lower:.4g} to {joint.upper:.4g}",
                "Hold it inside its limits.",
            )


def stands_of(tree: Tree, body: str) -> set[str]:
    """Moving joints above the body that carry everything that weighs: a test stand's."""
    way = joints_to(tree, body)
    stands: set[str] = set()
    weightless = True
    for joint in way:
        weightless = weightless and tree.links[joint.parent].solid.mass <= 0.0
        siblings = [n for n in tree.child_joints[joint.parent] if n != joint.name]
        for sibling in siblings:
            child = tree.joints[sibling].child
            parts = [child, *(j.child for j in below(tree, child))]
            weightless = weightless and all(tree.links[p].solid.mass <= 0.0 for p in parts)
        if weightless and joint.moves:
            stands.add(joint.name)
    return stands


def waists_of(tree: Tree, body: str, limbs: Sequence[Limb]) -> list[str]:
    """Moving joints between the body and a leg's first joint, in the order of the file."""
    above = {joint.name for joint in joints_to(tree, body)}
    between = {
        joint.name
        for limb in limbs
        for joint in joints_to(tree, limb.base)
        if joint.moves and joint.name not in above
    }
    return [name for name in tree.joints if name in between]
