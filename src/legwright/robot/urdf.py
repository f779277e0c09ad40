"""URDF in: the XML of a robot description becomes a checked `Tree`."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType

import numpy as np

from legwright.errors import RobotError
from legwright.robot.tree import Joint, Link, Tree
from legwright.robot.urdf_checks import check_spelling, rooted_tree
from legwright.robot.urdf_joints import LooseJoint, read_joint
from legwright.robot.urdf_links import read_link
from legwright.robot.xml_text import Element, parse_xml, read_text

MOST_LINKS = 5000
"""Links; a description with more is not a walking robot."""

_OTHER_FORMATS = {
    "mujoco": "This is MJCF; export or convert the robot to URDF.",
    "sdf": "This is SDF; export or convert the robot to URDF.",
    "svg": "This is a drawing; name the robot's .urdf file.",
    "html": "This is a web page; name the robot's .urdf file.",
}


def read_urdf(path: Path | str) -> Tree:
    """The links and joints of a URDF file.

    Meshes are located, not opened. A `floating` or `planar` joint above the robot only frees
    its root and is left out, with the empty link above it.

    Args:
        path: The .urdf file.

    Returns:
        A single checked tree.

    Raises:
        RobotError: with file, line, link or joint, and what to do, for anything that cannot be
            a robot.

    Source: URDF specification (links, joints), REP-103.
    """
    path = Path(path)
    return tree_of_xml(parse_xml(read_text(path), path), path)


def tree_of_xml(root: Element, path: Path) -> Tree:
    """The tree that a parsed <robot> element describes; see `read_urdf`."""
    _check_root(root, path)
    check_spelling(root, path)
    links = _links(root, path)
    loose = _joints(root, path)
    return rooted_tree(root.attributes.get("name", "").strip() or path.stem, links, loose, path)


def _check_root(root: Element, path: Path) -> None:
    if root.tag != "robot":
        raise RobotError(
            path,
            f"line {root.line}",
            f"starts with <{root.tag[:40]}>, not <robot>",
            _OTHER_FORMATS.get(root.tag, "Name a URDF file; its root element is <robot>."),
        )
    count = sum(1 for _ in root.all("link"))
    if not count:
        raise RobotError(
            path, f"line {root.line}, <robot>", "holds no <link>", "Add links and joints."
        )
    if count > MOST_LINKS:
        raise RobotError(
            path,
            f"line {root.line}, <robot>",
            f"holds {count} links, more than {MOST_LINKS}",
            "Merge parts that never move against each other.",
        )


def _links(root: Element, path: Path) -> dict[str, Link]:
    links: dict[str, Link] = {}
    for element in root.all("link"):
        link = read_link(element, path)
        if link.name in links:
            raise _twice(path, element, "link", link.name)
        links[link.name] = link
    return links


def _joints(root: Element, path: Path) -> dict[str, LooseJoint]:
    joints: dict[str, LooseJoint] = {}
    for element in root.all("joint"):
        joint = read_joint(element, path)
        if joint.name in joints:
            raise _twice(path, element, "joint", joint.name)
        joints[joint.name] = joint
    return joints


def _twice(path: Path, element: Element, what: str, name: str) -> RobotError:
    return RobotError(
        path,
        f"line {element.line}, {what} '{name}'",
        f"is a second {what} of this name",
        f"Give every {what} a name of its own.",
    )


def notes_on(tree: Tree) -> tuple[str, ...]:
    """What a checked tree leaves open or states oddly, one sentence each."""
    return (*_notes_on_links(tree.links.values()), *_notes_on_joints(tree.joints.values()))


def _notes_on_links(links: object) -> tuple[str, ...]:
    points, odd = [], []
    for link in links:  # type: ignore[attr-defined]
        if link.solid.mass <= 0.0:
            continue
        low, middle, high = np.linalg.eigvalsh(link.solid.inertia)
        if high <= 0.0:
            points.append(link.name)
        elif low + middle < high * (1.0 - 1e-4):
            odd.append(link.name)
    notes = []
    if points:
        notes.append(f"No inertia is given for {_listed(points)}; taken as point masses.")
    if odd:
        notes.append(f"The inertia of {_listed(odd)} is that of no real body; used as given.")
    return tuple(notes)


def _notes_on_joints(joints: object) -> tuple[str, ...]:
    blank = [j.name for j in joints if j.actuated and (not j.effort or not j.velocity)]  # type: ignore[attr-defined]
    if not blank:
        return ()
    return (f"No effort or velocity limit is given for {_listed(blank)}.",)


def _listed(names: list[str]) -> str:
    shown = ", ".join(names[:4])
    return shown if len(names) <= 4 else f"{shown} and {len(names) - 4} more"


__all__ = ["Joint", "MappingProxyType", "notes_on", "read_urdf", "tree_of_xml"]
