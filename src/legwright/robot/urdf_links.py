"""One <link> of a URDF: mass, inertia and shapes."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from legwright.errors import RobotError
from legwright.robot.meshes import mesh_path
from legwright.robot.solids import nothing
from legwright.robot.tree import Link, Shape, ShapeKind, Solid, read_only
from legwright.robot.urdf_values import LONGEST, Reader
from legwright.robot.xml_text import Element

IMPOSSIBLE = 0.05
"""Share by which the largest principal moment may exceed the sum of the others; more is an
error, less is noted. Common practice, no published source."""


def read_link(element: Element, path: Path) -> Link:
    """A link from its element.

    Args:
        element: The <link>.
        path: The file, for errors and mesh paths.

    Returns:
        The link; zero mass where it has no <inertial>.

    Raises:
        RobotError: for anything in it that cannot be.
    """
    name = Reader(path, "link").word(element, "name")
    read = Reader(path, f"link '{name}'")
    return Link(
        name=name,
        solid=_solid(element, read),
        collision=_shapes(element, "collision", read),
        visual=_shapes(element, "visual", read),
    )


def _solid(link: Element, read: Reader) -> Solid:
    element = link.first("inertial")
    if element is None:
        return nothing()
    mass_element = element.first("mass")
    if mass_element is None:
        read.fail(element, "<inertial> lacks <mass>", 'Add <mass value="..."/> in kg.')
    mass = read.needed(mass_element, "value")
    if mass < 0.0:
        read.fail(mass_element, f"weighs {mass:g} kg", "Write a mass above zero.")
    pose = read.origin(element)
    inertia = _inertia(element, mass, read)
    turn = pose[:3, :3]
    return Solid(mass=mass, com=read_only(pose[:3, 3]), inertia=read_only(turn @ inertia @ turn.T))


def _inertia(inertial: Element, mass: float, read: Reader) -> np.ndarray:
    element = inertial.first("inertia")
    if element is None:
        return np.zeros((3, 3))
    xx, yy, zz = (read.needed(element, key) for key in ("ixx", "iyy", "izz"))
    xy, xz, yz = (read.number(element, key) or 0.0 for key in ("ixy", "ixz", "iyz"))
    matrix = np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])
    low, middle, high = np.linalg.eigvalsh(matrix)
    slack = 1e-9 * max(abs(high), abs(low))
    if mass > 0.0 and low < -slack:
        read.fail(
            element,
            f"<inertia> has the principal moment {low:.3g} kg·m²; none may be negative",
            "Export the inertia again, in kg·m² about the centre of mass.",
        )
    if mass > 0.0 and low + middle < high * (1.0 - IMPOSSIBLE) - slack:
        read.fail(
            element,
            f"<inertia> has principal moments {low:.3g}, {middle:.3g}, {high:.3g} kg·m²; the "
            "largest exceeds the sum of the others, which no body can have",
            "Export the inertia again, in kg·m² about the centre of mass.",
        )
    return matrix


def _shapes(link: Element, tag: str, read: Reader) -> tuple[Shape, ...]:
    shapes: list[Shape] = []
    for element in link.all(tag):
        geometry = element.first("geometry")
        if geometry is None:
            read.fail(element, f"<{tag}> lacks <geometry>", "Add a geometry or remove it.")
        pose = read.origin(element)
        for body in geometry.children:
            shapes.extend(_shape(body, pose, read))
    return tuple(shapes)


def _shape(body: Element, pose: np.ndarray, read: Reader) -> list[Shape]:
    if body.tag == "box":
        return [Shape(kind=ShapeKind.BOX, size=_sizes(body, "size", 3, read), placement=pose)]
    if body.tag == "sphere":
        return [Shape(kind=ShapeKind.SPHERE, size=_sizes(body, "radius", 1, read), placement=pose)]
    if body.tag == "cylinder":
        size = (*_sizes(body, "radius", 1, read), *_sizes(body, "length", 1, read))
        return [Shape(kind=ShapeKind.CYLINDER, size=size, placement=pose)]
    if body.tag == "capsule":
        return _capsule(body, pose, read)
    if body.tag == "mesh":
        return [_mesh(body, pose, read)]
    read.fail(
        body,
        f"<geometry> holds <{body.tag[:40]}>, which is unknown",
        "Use box, cylinder, sphere, capsule or mesh.",
    )


def _capsule(body: Element, pose: np.ndarray, read: Reader) -> list[Shape]:
    """A cylinder with a sphere at each end: `Shape` has no capsule."""
    (radius,), (length,) = _sizes(body, "radius", 1, read), _sizes(body, "length", 1, read)
    parts = [Shape(kind=ShapeKind.CYLINDER, size=(radius, length), placement=pose)]
    for end in (-length / 2.0, length / 2.0):
        moved = np.array(pose)
        moved[:3, 3] += end * moved[:3, 2]
        parts.append(Shape(kind=ShapeKind.SPHERE, size=(radius,), placement=read_only(moved)))
    return parts


def _sizes(body: Element, key: str, count: int, read: Reader) -> tuple[float, ...]:
    values = read.numbers(body, key, count)
    if values is None:
        read.fail(body, f"<{body.tag}> lacks {key}", f'Add {key}="..." in metres.')
    if min(values) < 0.0 or max(values) > LONGEST:
        read.fail(
            body,
            f"<{body.tag}> {key}={body.attributes[key]!r} is out of range",
            f"Sizes are in metres, from 0 to {LONGEST:g}.",
        )
    return values


def _mesh(body: Element, pose: np.ndarray, read: Reader) -> Shape:
    name = read.word(body, "filename")
    found = mesh_path(name, read.path)
    if found is None:
        raise RobotError(
            read.path,
            f"line {body.line}, {read.what}",
            f"mesh {name[:200]!r} is not there",
            f"Put the file next to {read.path.name}, correct its path, or remove the mesh.",
        )
    scale = read.numbers(body, "scale", 3) or (1.0, 1.0, 1.0)
    if min(map(abs, scale)) <= 0.0:
        read.fail(body, f"<mesh> scale={body.attributes['scale']!r} is flat", "Use scales above 0.")
    return Shape(kind=ShapeKind.MESH, size=scale, placement=pose, mesh=found)
