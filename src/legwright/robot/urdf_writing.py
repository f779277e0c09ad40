"""Links and joints as the text of a standard URDF."""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, hypot, isfinite
from xml.sax.saxutils import quoteattr

from legwright.robot.tree import Floats, Joint, JointKind, Link, Shape, ShapeKind, Tree


def urdf_text(tree: Tree) -> str:
    """The URDF of a tree; numbers are written with twelve digits.

    Args:
        tree: Links and joints.

    Returns:
        XML text.

    Source: URDF specification.
    """
    lines = ['<?xml version="1.0" encoding="utf-8"?>', f"<robot name={quoteattr(tree.name)}>"]
    for link in tree.links.values():
        lines += _link(link)
    for joint in tree.joints.values():
        lines += _joint(joint)
    return "\n".join([*lines, "</robot>", ""])


def _number(value: float) -> str:
    """Twelve digits; what is left of rounding around zero is zero."""
    return "0" if abs(value) < 1e-15 else f"{float(value):.12g}"


def _numbers(values: tuple[float, ...] | Floats) -> str:
    return " ".join(_number(value) for value in values)


def rpy_of(turn: Floats) -> tuple[float, float, float]:
    """Roll, pitch and yaw about fixed axes of a rotation, (3, 3) [rad].

    Source: Craig, Introduction to Robotics (2005), sec. 2.8, X-Y-Z fixed angles; at a pitch
    of 90 degrees the yaw is taken as zero.
    """
    level = hypot(float(turn[0, 0]), float(turn[1, 0]))
    pitch = atan2(-float(turn[2, 0]), level)
    if level < 1e-9:
        roll = atan2(float(turn[0, 1]), float(turn[1, 1]))
        return (roll if turn[2, 0] < 0.0 else -roll), pitch, 0.0
    roll = atan2(float(turn[2, 1]), float(turn[2, 2]))
    return roll, pitch, atan2(float(turn[1, 0]), float(turn[0, 0]))


def _origin(pose: Floats) -> str:
    return f'<origin xyz="{_numbers(pose[:3, 3])}" rpy="{_numbers(rpy_of(pose[:3, :3]))}"/>'


def _link(link: Link) -> Iterator[str]:
    yield f"  <link name={quoteattr(link.name)}>"
    solid = link.solid
    if solid.mass > 0.0:
        i = solid.inertia
        terms = {"ixx": i[0, 0], "ixy": i[0, 1], "ixz": i[0, 2]}
        terms |= {"iyy": i[1, 1], "iyz": i[1, 2], "izz": i[2, 2]}
        written = " ".join(f'{name}="{_number(value)}"' for name, value in terms.items())
        yield "    <inertial>"
        yield f'      <origin xyz="{_numbers(solid.com)}" rpy="0 0 0"/>'
        yield f'      <mass value="{_number(solid.mass)}"/>'
        yield f"      <inertia {written}/>"
        yield "    </inertial>"
    for shape in link.visual or link.collision:
        yield from _shape("visual", shape)
    for shape in link.collision:
        yield from _shape("collision", shape)
    yield "  </link>"


def _shape(role: str, shape: Shape) -> Iterator[str]:
    yield f"    <{role}>"
    yield f"      {_origin(shape.placement)}"
    yield f"      <geometry>{_geometry(shape)}</geometry>"
    yield f"    </{role}>"


def _geometry(shape: Shape) -> str:
    if shape.kind is ShapeKind.BOX:
        return f'<box size="{_numbers(shape.size)}"/>'
    if shape.kind is ShapeKind.SPHERE:
        return f'<sphere radius="{_number(shape.size[0])}"/>'
    if shape.kind is ShapeKind.CYLINDER:
        return f'<cylinder radius="{_number(shape.size[0])}" length="{_number(shape.size[1])}"/>'
    name = "" if shape.mesh is None else shape.mesh.as_posix()
    return f'<mesh filename={quoteattr(name)} scale="{_numbers(shape.size)}"/>'


def _joint(joint: Joint) -> Iterator[str]:
    yield f'  <joint name={quoteattr(joint.name)} type="{joint.kind.value}">'
    yield f"    {_origin(joint.placement)}"
    yield f"    <parent link={quoteattr(joint.parent)}/>"
    yield f"    <child link={quoteattr(joint.child)}/>"
    if joint.kind is not JointKind.FIXED:
        yield f'    <axis xyz="{_numbers(joint.axis)}"/>'
        limit = _limit(joint)
        if limit:
            yield f"    <limit {limit}/>"
    if joint.mimic is not None:
        follow = joint.mimic
        yield (
            f"    <mimic joint={quoteattr(follow.source)} "
            f'multiplier="{_number(follow.multiplier)}" offset="{_number(follow.offset)}"/>'
        )
    yield "  </joint>"


def _limit(joint: Joint) -> str:
    stated = {
        "lower": joint.lower if isfinite(joint.lower) else None,
        "upper": joint.upper if isfinite(joint.upper) else None,
        "effort": joint.effort,
        "velocity": joint.velocity,
    }
    return " ".join(f'{name}="{_number(v)}"' for name, v in stated.items() if v is not None)
