"""The parametric walker: a ``[dimensions]`` table in, a tree of links and joints out."""

from __future__ import annotations

from collections.abc import Sequence
from math import radians
from pathlib import Path
from types import MappingProxyType

import numpy as np

from legwright.errors import RobotError
from legwright.robot.dimensions import Dimensions, MadePlate, Mast, Plates, Range
from legwright.robot.fitting import best_fit
from legwright.robot.generate_leg import (
    LegParts,
    ServoOf,
    hinge,
    leg_parts,
    one_solid,
    servo_solid,
)
from legwright.robot.layout import hips_of
from legwright.robot.placement import pose_of
from legwright.robot.primitives import box_shape, box_solid, post_shape
from legwright.robot.servo import Servo
from legwright.robot.sheet import Battery, Sheet
from legwright.robot.tree import Joint, Link, Solid, Tree, read_only

BODY = "trunk"
UPRIGHT = (0.0, 0.0, 0.0)
PAN, TILT = "mast_pan", "mast_tilt"
PAN_TRAVEL = Range.model_construct(lower=radians(-170.0), upper=radians(170.0))
TILT_TRAVEL = Range.model_construct(lower=radians(-90.0), upper=radians(60.0))


def tree_of(sheet: Sheet, path: Path) -> Tree:
    """The description that a sheet's dimensions make.

    Args:
        sheet: A sheet with ``[dimensions]``.
        path: The sheet's file, for errors.

    Returns:
        The tree; its root is the trunk, whose frame is the body frame.

    Raises:
        RobotError: if the sheet has no dimensions.
    """
    shape = sheet.dimensions
    if shape is None:
        raise RobotError(
            path,
            "urdf",
            "is missing, and there is no [dimensions] table either",
            'State urdf = "FILE.urdf" or the dimensions to generate one from.',
        )

    def servo_of(joint: str) -> Servo | None:
        return best_fit(joint, sheet.fit, sheet.servo)

    legs = [leg_parts(shape, hip, sheet.foot, servo_of, BODY) for hip in hips_of(shape)]
    links: list[Link] = []
    joints: list[Joint] = []
    for leg in legs:
        links += leg.links
        joints += leg.joints
    if shape.mast is not None:
        mast_links, mast_joints = _mast(shape, shape.mast, servo_of)
        links += mast_links
        joints += mast_joints
    return _tree(
        sheet.name or path.parent.name or "walker",
        [_trunk(sheet, shape, legs, servo_of), *links],
        joints,
    )


def _tree(name: str, links: Sequence[Link], joints: Sequence[Joint]) -> Tree:
    children: dict[str, list[str]] = {link.name: [] for link in links}
    for joint in joints:
        children[joint.parent].append(joint.name)
    return Tree(
        name=name,
        root=links[0].name,
        links=MappingProxyType({link.name: link for link in links}),
        joints=MappingProxyType({joint.name: joint for joint in joints}),
        parent_joint=MappingProxyType({joint.child: joint.name for joint in joints}),
        child_joints=MappingProxyType({link: tuple(names) for link, names in children.items()}),
    )


def _trunk(sheet: Sheet, shape: Dimensions, legs: Sequence[LegParts], servo_of: ServoOf) -> Link:
    """Two plates, the battery, all stated loads and the hip servos."""
    made = shape.plates
    height = made.gap + 2.0 * made.thickness
    away = (made.gap + made.thickness) / 2.0
    inside = (0.6 * made.length, 0.6 * made.width, 0.8 * made.gap)
    cargo = made.cargo + sum(load.mass or 0.0 for load in sheet.load.values())
    parts = [
        plate_solid(made, made.upper, away),
        plate_solid(made, made.lower, -away),
        box_solid(cargo, inside, (0.0, 0.0, 0.0)),
        *(leg.hip_servo for leg in legs),
    ]
    if sheet.battery is not None:
        parts.append(
            box_solid(
                sheet.battery.mass or 0.0, _battery_size(sheet.battery, made.gap), (0.0, 0.0, 0.0)
            )
        )
    if shape.mast is not None:
        parts.append(servo_solid(servo_of(PAN), shape, shape.mast.at, upright=True))
    around = box_shape((made.length, made.width, height), (0.0, 0.0, 0.0))
    return Link(name=BODY, solid=one_solid(*parts), collision=(around,))


def plate_solid(shape: Plates, made: MadePlate | None, height: float) -> Solid:
    """One plate of the trunk.

    Args:
        shape: Measures of both plates.
        made: The plate as it is made, or None: a box of which a share is left.
        height: Of its middle plane in the body frame [m].

    Returns:
        The solid, body frame.
    """
    if made is None:
        mass = shape.length * shape.width * shape.thickness * shape.density * shape.filled
        return box_solid(mass, (shape.length, shape.width, shape.thickness), (0.0, 0.0, height))
    (kx, ky), flat = made.spread, shape.thickness**2 / 12.0
    moments = np.array([ky**2 + flat, kx**2 + flat, kx**2 + ky**2])
    return Solid(
        mass=made.mass,
        com=read_only([*made.at, height]),
        inertia=read_only(made.mass * np.diag(moments)),
    )


def _battery_size(battery: Battery, gap: float) -> tuple[float, float, float]:
    return battery.size or (3.0 * gap, gap, 0.7 * gap)


def _mast(shape: Dimensions, mast: Mast, servo_of: ServoOf) -> tuple[list[Link], list[Joint]]:
    """A post that pans, and a camera on it that tilts."""
    top = (0.0, 0.0, mast.height)
    post = box_solid(mast.structure, (0.02, 0.02, mast.height), (0.0, 0.0, mast.height / 2.0))
    tilt_servo = servo_solid(servo_of(TILT), shape, top, upright=False)
    camera_at = (mast.camera_size[0] / 2.0, 0.0, 0.0)
    links = [
        Link(
            name="mast_post",
            solid=one_solid(post, tilt_servo),
            collision=(post_shape(0.01, 0.0, mast.height),),
        ),
        Link(
            name="mast_camera",
            solid=box_solid(mast.camera, mast.camera_size, camera_at),
            collision=(box_shape(mast.camera_size, camera_at),),
        ),
    ]
    joints = [
        hinge(
            PAN,
            (BODY, "mast_post"),
            pose_of(mast.at, UPRIGHT),
            axis=(0.0, 0.0, 1.0),
            travel=PAN_TRAVEL,
            servo=servo_of(PAN),
        ),
        hinge(
            TILT,
            ("mast_post", "mast_camera"),
            pose_of(top, UPRIGHT),
            axis=(0.0, -1.0, 0.0),
            travel=TILT_TRAVEL,
            servo=servo_of(TILT),
        ),
    ]
    return links, joints
