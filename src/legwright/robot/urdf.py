"""URDF in: the XML of a robot description becomes a checked `Tree`."""

from __future__ import annotations

from pathlib import Path

from legwright.errors import RobotError
from legwright.robot.tree import Link, Tree
from legwright.robot.urdf_checks import check_spelling, rooted_tree
from legwright.robot.urdf_joints import LooseJoint, read_joint
from legwright.robot.urdf_links import read_link
from legwright.robot.xml_text import Element, parse_xml, read_text

MOST_LINKS = 2000
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
    _check_weights(root, {e.joint.child for e in loose.values() if e.joint.moves}, path)
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


def _check_weights(root: Element, moved: set[str], path: Path) -> None:
    """Refuse links that move or have inertia and are said to weigh nothing."""
    for element in root.all("link"):
        inertial = element.first("inertial")
        mass = None if inertial is None else inertial.first("mass")
        if inertial is None or mass is None or float(mass.attributes["value"]) != 0.0:
            continue
        name = element.attributes["name"].strip()
        inertia = inertial.first("inertia")
        moments = {} if inertia is None else inertia.attributes
        spins = any(float(moments.get(key, 0.0)) != 0.0 for key in ("ixx", "iyy", "izz"))
        if name in moved or spins:
            raise RobotError(
                path,
                f"line {mass.line}, link '{name}'",
                f"{'moves' if name in moved else 'has inertia'} and weighs 0 kg",
                "Write its mass, or leave out <inertial> where a link only holds a frame.",
            )


def _twice(path: Path, element: Element, what: str, name: str) -> RobotError:
    return RobotError(
        path,
        f"line {element.line}, {what} '{name}'",
        f"is a second {what} of this name",
        f"Give every {what} a name of its own.",
    )
