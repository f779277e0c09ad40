"""The robot as a MuJoCo model specification (MJCF): links, joints, masses, collision shapes."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from legwright.errors import RobotError
from legwright.robot.hulls import hull_points
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, Joint, JointKind, Link, Shape, ShapeKind

if TYPE_CHECKING:
    import mujoco

LEAST_MASS = 1e-9
"""Mass given to moving links that have none; the engine refuses zero [kg]."""
LEAST_INERTIA = 1e-12
"""Likewise [kg·m²]."""


def body_name(link: str) -> str:
    """The engine's name for the body of a link: the link's, except that it owns ``world``."""
    return "world (link)" if link == "world" else link


def model_of(robot: Robot, *, free: bool = False) -> mujoco.MjModel:
    """The robot as a compiled MuJoCo model; see `spec_of`.

    Args:
        robot: The robot.
        free: Whether the root link moves freely.

    Raises:
        RobotError: if a mesh cannot be read or the engine refuses the description.
    """
    try:
        return spec_of(robot, free=free).compile()
    except ValueError as error:
        raise refused(robot, error) from error


def refused(robot: Robot, error: ValueError) -> RobotError:
    """What the engine says of a robot that it does not take, translated."""
    said = " ".join(str(error).split())[:200]
    return RobotError(
        robot.source,
        "",
        f"the geometry engine refuses it: {said}",
        "Look at that part of the URDF.",
    )


def spec_of(robot: Robot, *, free: bool = False) -> mujoco.MjSpec:
    """The robot as a MuJoCo specification, ready to `compile()` or to add a world to.

    Bodies and joints keep the names of links and joints; a link's shapes are geoms named
    ``link/0``, ``link/1``, …; meshes count as their convex hulls. Masses and inertias are those of
    the description; links without mass get a trifle, and inertias that no real body can have
    are balanced by the engine. A mimic joint becomes a joint with an equality constraint.

    Args:
        robot: The robot.
        free: Whether the root link moves freely; else it is fixed to the world.

    Returns:
        The specification; no actuators, no floor.

    Raises:
        RobotError: if a mesh cannot be read.
    """
    import mujoco

    spec = mujoco.MjSpec()
    spec.modelname = robot.name
    spec.compiler.degree = False
    spec.compiler.boundmass, spec.compiler.boundinertia = LEAST_MASS, LEAST_INERTIA
    spec.compiler.balanceinertia = True
    bodies = {robot.tree.root: spec.worldbody.add_body(name=body_name(robot.tree.root))}
    if free:
        bodies[robot.tree.root].add_freejoint()
    waiting = [robot.tree.root]
    while waiting:
        name = waiting.pop(0)
        _fill(spec, bodies[name], robot.tree.links[name])
        for joint_name in robot.tree.child_joints.get(name, ()):
            joint = robot.tree.joints[joint_name]
            bodies[joint.child] = _attach(bodies[name], joint)
            waiting.append(joint.child)
    for joint in robot.tree.joints.values():
        if joint.moves and joint.mimic is not None:
            data = [joint.mimic.offset, joint.mimic.multiplier, *[0.0] * (mujoco.mjNEQDATA - 2)]
            spec.add_equality(
                type=mujoco.mjtEq.mjEQ_JOINT,
                objtype=mujoco.mjtObj.mjOBJ_JOINT,
                name1=joint.name,
                name2=joint.mimic.source,
                data=data,
            )
    return spec


def _attach(parent: Any, joint: Joint) -> Any:
    """The child body of a joint, placed, with the joint in it if it moves."""
    import mujoco

    pose = joint.placement
    body = parent.add_body(
        name=body_name(joint.child), pos=pose[:3, 3], quat=_quaternion(pose[:3, :3])
    )
    if joint.moves:
        slides = joint.kind is JointKind.PRISMATIC
        limited = isfinite(joint.lower) and isfinite(joint.upper) and joint.lower < joint.upper
        body.add_joint(
            name=joint.name,
            type=mujoco.mjtJoint.mjJNT_SLIDE if slides else mujoco.mjtJoint.mjJNT_HINGE,
            axis=joint.axis,
            limited=mujoco.mjtLimited.mjLIMITED_TRUE
            if limited
            else mujoco.mjtLimited.mjLIMITED_FALSE,
            range=[joint.lower, joint.upper] if limited else [0.0, 0.0],
        )
    return body


def _fill(spec: Any, body: Any, link: Link) -> None:
    """Mass, inertia and shapes of a link."""
    moments, axes = np.linalg.eigh(link.solid.inertia)
    axes[:, 2] *= np.sign(np.linalg.det(axes)) or 1.0
    body.explicitinertial = True
    body.mass, body.ipos = link.solid.mass, link.solid.com
    body.inertia, body.iquat = np.maximum(moments, 0.0), _quaternion(axes)
    for index, shape in enumerate(link.shapes):
        _add_shape(spec, body, shape, f"{link.name}/{index}")


def geom_of(kind: ShapeKind) -> Any:
    """The engine's kind of a shape."""
    import mujoco

    return {
        ShapeKind.BOX: mujoco.mjtGeom.mjGEOM_BOX,
        ShapeKind.CYLINDER: mujoco.mjtGeom.mjGEOM_CYLINDER,
        ShapeKind.SPHERE: mujoco.mjtGeom.mjGEOM_SPHERE,
        ShapeKind.MESH: mujoco.mjtGeom.mjGEOM_MESH,
    }[kind]


def _add_shape(spec: Any, body: Any, shape: Shape, name: str) -> None:
    import mujoco

    where = {
        "pos": shape.placement[:3, 3],
        "quat": _quaternion(shape.placement[:3, :3]),
        "name": name,
        "type": geom_of(shape.kind),
    }
    if shape.kind is ShapeKind.BOX:
        body.add_geom(size=[0.5 * edge for edge in shape.size], **where)
    elif shape.kind is ShapeKind.CYLINDER:
        body.add_geom(size=[shape.size[0], 0.5 * shape.size[1], 0.0], **where)
    elif shape.kind is ShapeKind.SPHERE:
        body.add_geom(size=[shape.size[0], 0.0, 0.0], **where)
    elif shape.mesh is not None:
        points = hull_points(shape.mesh, shape.size)
        convex = mujoco.mjtMeshInertia.mjMESH_INERTIA_CONVEX
        spec.add_mesh(name=name, uservert=points.ravel(), inertia=convex)
        body.add_geom(meshname=name, **where)


def _quaternion(turn: Floats) -> Floats:
    import mujoco

    result = np.empty(4)
    mujoco.mju_mat2Quat(result, np.ascontiguousarray(turn, dtype=np.float64).ravel())
    return result
