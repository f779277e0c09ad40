"""Links and joints of one leg of a parametric walker.

The servo of a joint sits in the link before it: the coxa's in the trunk, the femur's in the
coxa, the tibia's in the femur (common practice, no published source).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi

import numpy as np

from legwright.robot.dimensions import Dimensions, Range
from legwright.robot.layout import Hip
from legwright.robot.placement import pose_of
from legwright.robot.primitives import (
    Point,
    ball_shape,
    ball_solid,
    box_shape,
    box_solid,
    rod_shape,
    tube_solid,
)
from legwright.robot.servo import Servo
from legwright.robot.sheet import Foot
from legwright.robot.solids import merged
from legwright.robot.tree import Floats, Joint, JointKind, Link, Shape, Solid, read_only

RUBBER = 1100.0
"""Density of a foot whose mass is not stated [kg/m³]."""
PACKED = 1600.0
"""Density of a servo whose size is not stated [kg/m³]; common practice, no published source."""
YAW: Point = (0.0, 0.0, 1.0)
LIFT: Point = (0.0, -1.0, 0.0)

ServoOf = Callable[[str], Servo | None]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LegParts:
    """What one leg adds to the robot."""

    links: tuple[Link, ...]
    joints: tuple[Joint, ...]
    hip_servo: Solid
    """The coxa's servo, in the body frame; it belongs to the trunk."""


def leg_parts(shape: Dimensions, hip: Hip, foot: Foot, servo_of: ServoOf, body: str) -> LegParts:
    """Links and joints of one leg.

    Args:
        shape: The measures.
        hip: Where the leg sits.
        foot: The foot.
        servo_of: Joint name -> its servo.
        body: Name of the trunk's link.

    Returns:
        The parts.
    """
    coxa, femur, tibia = (f"{hip.name}_{part}" for part in ("coxa", "femur", "tibia"))
    links = [f"{name}_link" for name in (coxa, femur, tibia)]
    end = f"{hip.name}_foot"
    shift = hip.side * shape.femur_shift
    at_knee = (shape.coxa, shift, shape.femur_rise)
    onward = (shape.femur, hip.side * shape.tibia_shift, 0.0)
    travel = shape.travel
    joints = (
        hinge(
            coxa,
            (body, links[0]),
            pose_of((hip.x, hip.y, shape.hip_height), (0.0, 0.0, hip.yaw)),
            axis=YAW,
            travel=_mirrored(travel.coxa, hip.side),
            servo=servo_of(coxa),
        ),
        hinge(
            femur,
            (links[0], links[1]),
            pose_of(at_knee, (0.0, -shape.zero.femur, 0.0)),
            axis=LIFT,
            travel=travel.femur,
            servo=servo_of(femur),
        ),
        hinge(
            tibia,
            (links[1], links[2]),
            pose_of(onward, (0.0, -shape.zero.tibia, 0.0)),
            axis=LIFT,
            travel=travel.tibia,
            servo=servo_of(tibia),
        ),
        _fixed(f"{end}_mount", links[2], end, (shape.tibia, 0.0, 0.0)),
    )
    radius = foot_radius(shape, foot)
    at_femur = servo_solid(servo_of(femur), shape, at_knee, upright=False)
    at_tibia = servo_solid(servo_of(tibia), shape, onward, upright=False)
    parts = (
        _cheek_link(links[0], shape, at_knee, shape.coxa, at_femur),
        _cheek_link(links[1], shape, onward, shape.femur, at_tibia),
        _tibia_link(links[2], shape, radius),
        _foot_link(end, radius, foot),
    )
    at_hip = (hip.x, hip.y, shape.hip_height)
    servo = servo_solid(servo_of(coxa), shape, at_hip, upright=True)
    return LegParts(links=parts, joints=joints, hip_servo=servo)


def foot_radius(shape: Dimensions, foot: Foot) -> float:
    """Radius of the foot's ball; a little more than the tube's when not stated [m]."""
    return foot.radius or 0.6 * shape.segments.tube


def servo_solid(servo: Servo | None, shape: Dimensions, at: Point, *, upright: bool) -> Solid:
    """A servo's mass properties.

    Args:
        servo: The servo, or None.
        shape: States the mass to assume when the servo states none.
        at: Centre [m].
        upright: Whether its shaft stands along z; else along y.

    Returns:
        The solid.
    """
    stated = None if servo is None else servo.mass
    mass = shape.servo_mass if stated is None else stated
    edge = (mass / PACKED) ** (1.0 / 3.0)
    length, width, height = (servo.size if servo is not None else None) or (edge, edge, edge)
    size = (length, width, height) if upright else (length, height, width)
    return box_solid(mass, size, at)


def _mirrored(span: Range, side: int) -> Range:
    if side > 0:
        return span
    return Range.model_construct(lower=-span.upper, upper=-span.lower)


def hinge(
    name: str,
    between: tuple[str, str],
    placement: Floats,
    *,
    axis: Point,
    travel: Range,
    servo: Servo | None,
) -> Joint:
    """A revolute joint whose peak torque and speed are its servo's.

    Args:
        name: Of the joint.
        between: Parent link and child link.
        placement: Pose of the joint in the parent link, (4, 4).
        axis: Unit axis in the joint frame.
        travel: Limits.
        servo: The servo, or None.

    Returns:
        The joint.
    """
    peak = None if servo is None else servo.peak_torque or servo.stall_torque
    return Joint(
        name=name,
        kind=JointKind.REVOLUTE,
        parent=between[0],
        child=between[1],
        placement=read_only(placement),
        axis=read_only(axis),
        lower=travel.lower,
        upper=travel.upper,
        effort=peak,
        velocity=None if servo is None else servo.no_load_speed,
    )


def _fixed(name: str, parent: str, child: str, xyz: Point) -> Joint:
    return Joint(
        name=name,
        kind=JointKind.FIXED,
        parent=parent,
        child=child,
        placement=read_only(pose_of(xyz, (0.0, 0.0, 0.0))),
        axis=read_only((1.0, 0.0, 0.0)),
        lower=0.0,
        upper=0.0,
    )


def one_solid(*solids: Solid) -> Solid:
    """Several solids in one frame as one."""
    return merged((np.eye(4), solid) for solid in solids)


def _cheeks(shape: Dimensions, end: Point, reach: float) -> tuple[Solid, Shape]:
    """Two cheeks from the link's origin to `end`, and the box around them."""
    made = shape.segments
    length = max(reach, made.height)
    start, width = (reach - length) / 2.0, made.width
    mass = 2.0 * length * made.height * made.thickness * made.density
    size = (length, width, made.height)
    centre = (start + length / 2.0, end[1] / 2.0, end[2] / 2.0)
    return box_solid(mass, size, centre), box_shape(size, centre)


def _cheek_link(name: str, shape: Dimensions, end: Point, reach: float, servo: Solid) -> Link:
    """Coxa or femur, with the next joint's servo."""
    solid, around = _cheeks(shape, end, reach)
    return Link(name=name, solid=one_solid(solid, servo), collision=(around,))


def _tibia_link(name: str, shape: Dimensions, foot: float) -> Link:
    made = shape.segments
    outer = made.tube / 2.0
    inner = outer - made.wall
    end = max(shape.tibia - foot / 2.0, 0.5 * shape.tibia)
    mass = pi * (outer**2 - inner**2) * end * made.tube_density
    solid = tube_solid(mass, outer, inner, 0.0, end)
    return Link(name=name, solid=solid, collision=(rod_shape(outer, 0.0, end),))


def _foot_link(name: str, radius: float, foot: Foot) -> Link:
    mass = RUBBER * 4.0 / 3.0 * pi * radius**3 if foot.mass is None else foot.mass
    ball = ball_shape(radius, (0.0, 0.0, 0.0))
    return Link(name=name, solid=ball_solid(mass, radius, (0.0, 0.0, 0.0)), collision=(ball,))
