"""A URDF with moved joints: the original's text, patched where the moved tree differs.

Everything else of the file stays: comments, materials, tags of other programs.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from legwright.errors import RobotError
from legwright.robot.meshes import mesh_path
from legwright.robot.tree import Floats, Link, Shape, ShapeKind, Tree
from legwright.robot.urdf_writing import rpy_of


def moved_urdf(description: Path, old: Tree, new: Tree, folder: Path) -> str:
    """The text of a URDF after its joints have moved.

    Args:
        description: The URDF as it is.
        old: Its tree.
        new: The same with moved joints and stretched links.
        folder: Where the new file will lie; names of mesh files are told from there.

    Returns:
        XML text.

    Raises:
        RobotError: if the file cannot be read.
    """
    try:
        parser = ElementTree.XMLParser(target=ElementTree.TreeBuilder(insert_comments=True))
        root = ElementTree.fromstring(description.read_bytes(), parser=parser)
    except (OSError, ElementTree.ParseError) as error:
        raise RobotError(description, "", f"cannot be read ({error})", "Check the file.") from None
    for element in root.findall("joint"):
        name = element.get("name", "")
        if name in new.joints and new.joints[name] is not old.joints.get(name):
            _place(element, new.joints[name].placement)
    for element in root.findall("link"):
        name = element.get("name", "")
        if name in new.links and new.links[name] is not old.links.get(name):
            _stretch(element, new.links[name])
    for mesh in root.iter("mesh"):
        found = mesh_path(mesh.get("filename", ""), description)
        if found is not None:
            mesh.set("filename", Path(os.path.relpath(found, folder)).as_posix())
    body = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="utf-8"?>\n{body}\n'


def _numbers(values: Sequence[float] | Floats) -> str:
    return " ".join("0" if abs(v) < 1e-15 else f"{float(v):.12g}" for v in values)


def _origin(element: ElementTree.Element) -> ElementTree.Element:
    found = element.find("origin")
    if found is None:
        found = ElementTree.Element("origin")
        element.insert(0, found)
    return found


def _place(element: ElementTree.Element, pose: Floats) -> None:
    origin = _origin(element)
    origin.set("xyz", _numbers(pose[:3, 3]))
    if not np.allclose(pose[:3, :3], np.eye(3), atol=1e-15) or "rpy" in origin.attrib:
        origin.set("rpy", _numbers(rpy_of(pose[:3, :3])))


def _stretch(element: ElementTree.Element, link: Link) -> None:
    inertial = element.find("inertial")
    if inertial is not None and link.solid.mass > 0.0:
        _origin(inertial).set("xyz", _numbers(link.solid.com))
    for tag, shapes in (("collision", link.collision), ("visual", link.visual)):
        parts = element.findall(tag)
        if len(parts) != len(shapes):
            continue
        for part, shape in zip(parts, shapes, strict=True):
            if shape.kind is not ShapeKind.MESH:
                _origin(part).set("xyz", _numbers(shape.placement[:3, 3]))
                _resize(part, shape)


def _resize(part: ElementTree.Element, shape: Shape) -> None:
    box, cylinder = part.find("geometry/box"), part.find("geometry/cylinder")
    if shape.kind is ShapeKind.BOX and box is not None:
        box.set("size", _numbers(shape.size))
    elif shape.kind is ShapeKind.CYLINDER and cylinder is not None:
        cylinder.set("length", _numbers(shape.size[1:]))
