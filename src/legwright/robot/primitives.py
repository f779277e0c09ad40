"""Boxes, rods and balls: their mass properties, and their shapes in a link."""

from __future__ import annotations

from math import pi

import numpy as np

from legwright.robot.placement import pose_of
from legwright.robot.tree import Floats, Shape, ShapeKind, Solid, read_only

Point = tuple[float, float, float]
ALONG_X: Point = (0.0, pi / 2.0, 0.0)
"""Turns a cylinder's axis from z to x."""


def _solid(mass: float, at: Point, xx: float, yy: float, zz: float) -> Solid:
    return Solid(mass=mass, com=read_only(at), inertia=read_only(np.diag([xx, yy, zz])))


def box_solid(mass: float, size: Point, at: Point) -> Solid:
    """A homogeneous box, edges along the axes.

    Args:
        mass: [kg]
        size: Edges along x, y, z [m].
        at: Centre [m].

    Returns:
        The solid.

    Source: standard moments of inertia, textbook identity.
    """
    x, y, z = (edge * edge for edge in size)
    return _solid(mass, at, mass * (y + z) / 12.0, mass * (x + z) / 12.0, mass * (x + y) / 12.0)


def tube_solid(mass: float, outer: float, inner: float, start: float, end: float) -> Solid:
    """A homogeneous tube along x.

    Args:
        mass: [kg]
        outer: Outer radius [m].
        inner: Inner radius, 0 for a rod [m].
        start: Where it begins on the x axis [m].
        end: Where it ends [m].

    Returns:
        The solid.

    Source: standard moments of inertia, textbook identity.
    """
    round_part = outer * outer + inner * inner
    across = mass * (3.0 * round_part + (end - start) ** 2) / 12.0
    return _solid(mass, ((start + end) / 2.0, 0.0, 0.0), mass * round_part / 2.0, across, across)


def ball_solid(mass: float, radius: float, at: Point) -> Solid:
    """A homogeneous ball; mass [kg], radius and centre [m]."""
    each = 0.4 * mass * radius * radius
    return _solid(mass, at, each, each, each)


def box_shape(size: Point, at: Point) -> Shape:
    """A box with its edges along the link's axes; edges and centre [m]."""
    return Shape(kind=ShapeKind.BOX, size=size, placement=_placed(at, (0.0, 0.0, 0.0)))


def rod_shape(radius: float, start: float, end: float) -> Shape:
    """A cylinder along the link's x axis, from `start` to `end` [m]."""
    middle = ((start + end) / 2.0, 0.0, 0.0)
    size = (radius, end - start)
    return Shape(kind=ShapeKind.CYLINDER, size=size, placement=_placed(middle, ALONG_X))


def post_shape(radius: float, bottom: float, top: float) -> Shape:
    """A cylinder along the link's z axis, from `bottom` to `top` [m]."""
    middle = (0.0, 0.0, (bottom + top) / 2.0)
    placement = _placed(middle, (0.0, 0.0, 0.0))
    return Shape(kind=ShapeKind.CYLINDER, size=(radius, top - bottom), placement=placement)


def ball_shape(radius: float, at: Point) -> Shape:
    """A ball; radius and centre [m]."""
    return Shape(kind=ShapeKind.SPHERE, size=(radius,), placement=_placed(at, (0.0, 0.0, 0.0)))


def _placed(at: Point, rpy: Point) -> Floats:
    return read_only(pose_of(at, rpy))
