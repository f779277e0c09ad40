"""Whether links and joints make one tree, and the tree they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from legwright.errors import RobotError, did_you_mean
from legwright.robot.tree import Joint, JointKind, Link, Tree
from legwright.robot.urdf_joints import LooseJoint
from legwright.robot.xml_text import Element


def check_spelling(root: Element, path: Path) -> None:
    """Refuse macros that nobody expanded, and misspelt links and joints."""
    pending = [root]
    while pending:
        element = pending.pop()
        pending.extend(element.children)
        macro = element.tag.startswith("xacro:") or any(
            "${" in text or "$(" in text for text in element.attributes.values()
        )
        if macro:
            raise RobotError(
                path,
                f"line {element.line}, <{element.tag[:40]}>",
                "holds xacro macros",
                f"Expand it first: xacro {path.name} > robot.urdf",
            )
    for element in root.children:
        if element.tag.lower() in ("links", "joints") or (
            element.tag not in ("link", "joint") and element.tag.lower() in ("link", "joint")
        ):
            raise RobotError(
                path,
                f"line {element.line}, <{element.tag}>",
                "is not a URDF element",
                did_you_mean(element.tag.lower(), ["link", "joint"]),
            )


def rooted_tree(
    name: str, links: Mapping[str, Link], loose: Mapping[str, LooseJoint], path: Path
) -> Tree:
    """The one tree that links and joints make.

    Args:
        name: The robot's name.
        links: All links.
        loose: All joints.
        path: The file, for errors.

    Returns:
        The tree, from the robot's own root down: what a free joint hangs from is left out.

    Raises:
        RobotError: for unknown links, two parents, loops, several roots, misplaced free joints,
            mimic faults, massless robots.
    """
    _check_ends(links, loose, path)
    parent = _parents(loose, path)
    roots = [link for link in links if link not in parent]
    _check_single(links, loose, parent, roots, path)
    root, dropped = _own_root(roots[0], links, loose, path)
    joints = {j.name: j.joint for j in loose.values() if j.joint.child not in dropped | {root}}
    kept = {link: links[link] for link in links if link not in dropped}
    joints = _checked_mimics(joints, path)
    _check_mass(kept, path)
    return Tree(
        name=name,
        root=root,
        links=MappingProxyType(kept),
        joints=MappingProxyType(joints),
        parent_joint=MappingProxyType({j.child: j.name for j in joints.values()}),
        child_joints=MappingProxyType(_children(kept, joints)),
    )


def _at(joint: LooseJoint) -> str:
    return f"line {joint.line}, joint '{joint.name}'"


def _check_ends(links: Mapping[str, Link], loose: Mapping[str, LooseJoint], path: Path) -> None:
    for entry in loose.values():
        for role, link in (("parent", entry.joint.parent), ("child", entry.joint.child)):
            if link not in links:
                raise RobotError(
                    path, _at(entry), f"has the unknown {role} link {link[:60]!r}",
                    did_you_mean(link, list(links)),
                )  # fmt: skip


def _parents(loose: Mapping[str, LooseJoint], path: Path) -> dict[str, LooseJoint]:
    parent: dict[str, LooseJoint] = {}
    for entry in loose.values():
        child = entry.joint.child
        if child in parent:
            raise RobotError(
                path,
                _at(entry),
                f"carries link '{child}', which joint '{parent[child].name}' carries already",
                "Keep one of the two joints; a URDF is a tree, loops cannot be closed in it.",
            )
        parent[child] = entry
    return parent


def _check_single(
    links: Mapping[str, Link],
    loose: Mapping[str, LooseJoint],
    parent: Mapping[str, LooseJoint],
    roots: list[str],
    path: Path,
) -> None:
    children: dict[str, list[str]] = {}
    for entry in loose.values():
        children.setdefault(entry.joint.parent, []).append(entry.joint.child)
    seen: set[str] = set()
    pending = list(roots)
    while pending:
        link = pending.pop()
        seen.add(link)
        pending.extend(children.get(link, ()))
    for link in links:
        if link not in seen:
            raise RobotError(
                path,
                f"{_at(parent[link])}, link '{link}'",
                "is part of a loop of joints",
                "Remove one joint of the loop so that one root link carries all others.",
            )
    if len(roots) > 1:
        raise RobotError(
            path,
            f"link '{roots[1]}'",
            f"is carried by no joint, like '{roots[0]}': {len(roots)} separate parts",
            "Join the parts with joints so that one root link carries all others.",
        )


def _own_root(
    root: str, links: Mapping[str, Link], loose: Mapping[str, LooseJoint], path: Path
) -> tuple[str, set[str]]:
    """The link below the lowest free joint, and the links above it, which are left out."""
    dropped: set[str] = set()
    free = [entry for entry in loose.values() if entry.free]
    while free:
        below = [entry for entry in loose.values() if entry.joint.parent == root]
        if len(below) != 1 or links[root].solid.mass > 0.0:
            raise RobotError(
                path,
                _at(free[0]),
                "sets a part of the robot free",
                "A floating or planar joint may only stand above the whole robot, "
                "below one empty link.",
            )
        dropped.add(root)
        root = below[0].joint.child
        free = [entry for entry in free if entry is not below[0]]
    return root, dropped


def _checked_mimics(joints: dict[str, Joint], path: Path) -> dict[str, Joint]:
    """Joints whose mimic follows a driven joint directly."""
    result = dict(joints)
    for name, joint in joints.items():
        trail, multiplier, offset = [name], 1.0, 0.0
        source = joint
        while source.mimic is not None:
            mimic = source.mimic
            offset += multiplier * mimic.offset
            multiplier *= mimic.multiplier
            if mimic.source not in joints:
                raise RobotError(
                    path, f"joint '{source.name}'",
                    f"mimics the unknown joint {mimic.source[:60]!r}",
                    did_you_mean(mimic.source, list(joints)),
                )  # fmt: skip
            if mimic.source in trail:
                raise RobotError(
                    path,
                    f"joint '{name}'",
                    "mimics itself: " + " -> ".join([*trail, mimic.source][:8]),
                    "Let one joint of them be driven.",
                )
            trail.append(mimic.source)
            source = joints[mimic.source]
        if joint.mimic is not None:
            if source.kind is JointKind.FIXED:
                raise RobotError(
                    path,
                    f"joint '{name}'",
                    f"mimics joint '{source.name}', which does not move",
                    "Let it follow a driven joint, or make it fixed too.",
                )
            direct = replace(joint.mimic, source=source.name, multiplier=multiplier, offset=offset)
            result[name] = replace(joint, mimic=direct)
    return result


def _check_mass(links: Mapping[str, Link], path: Path) -> None:
    if sum(link.solid.mass for link in links.values()) <= 0.0:
        raise RobotError(
            path, "<robot>", "weighs nothing: no link has a mass",
            "Add <inertial> with mass and inertia to the links.",
        )  # fmt: skip


def _children(links: Mapping[str, Link], joints: Mapping[str, Joint]) -> dict[str, tuple[str, ...]]:
    children: dict[str, list[str]] = {link: [] for link in links}
    for joint in joints.values():
        children[joint.parent].append(joint.name)
    return {link: tuple(names) for link, names in children.items()}
