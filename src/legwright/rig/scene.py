"""The engine's model of a robot on a ground."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, sin
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError, RobotError
from legwright.mechanics.loading import PointMass
from legwright.rig.ground import Ground
from legwright.robot.mjcf import body_name, spec_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, JointKind

if TYPE_CHECKING:
    import mujoco

FOOT_STIFFNESS = 20e3
"""Where the sheet states none [N/m]; an assumption, no published source."""

FOOT_FRICTION = 0.6
"""Where the sheet states none; an assumption, no published source."""

FOOT_DAMPING = 0.4
"""Damping ratio of a rubber foot under the mass of its shank; common practice."""

GRIP_STIFFNESS = 300.0
"""How much harder a foot resists sliding than sinking (the engine's `impratio`)."""

MOST_LEGS = 30
"""The engine tells no more kinds of contact apart."""

LONGEST_STEP = 0.002
"""Longest time step that contacts and gears bear [s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Scene:
    """A compiled model and where things are in it."""

    model: mujoco.MjModel
    at_q: NDArray[np.int64]
    """(J,): places of the leg joints in the engine's positions."""
    at_v: NDArray[np.int64]
    """(J,): in its velocities."""
    foot_geoms: NDArray[np.int64]
    """(L,)"""
    foot_radius: Floats
    """(L,) [m]"""
    foot_friction: float
    """Of the feet's own material."""
    body: int
    """The engine's number of the body link."""
    relief: bool
    """True where the ground is a height field, so that feet stand on plates of their own."""
    stand: int
    """The engine's number of the stand that holds the body in the air; -1 for none."""


def scene_of(
    robot: Robot,
    ground: Ground,
    *,
    timestep: float,
    payload: PointMass | None,
    on_stand: bool = False,
) -> Scene:
    """Build the model.

    Args:
        robot: The robot.
        ground: What it stands on.
        timestep: [s]
        payload: Fixed to the body.
        on_stand: Whether a stand holds the body in the air.

    Returns:
        The scene.

    Raises:
        RequestError: if the time step is out of range.
        RobotError: if the engine refuses the description.
    """
    import mujoco

    if not 0.0 < timestep <= LONGEST_STEP:
        raise RequestError("timestep", timestep, f"more than 0 and at most {LONGEST_STEP} s")
    spec = spec_of(robot, free=True)
    spec.option.timestep = timestep
    spec.option.cone = mujoco.mjtCone.mjCONE_ELLIPTIC
    spec.option.impratio = GRIP_STIFFNESS
    spec.option.integrator = mujoco.mjtIntegrator.mjINT_EULER
    _hold(spec, robot)
    for joint in spec.joints:  # stops of metal: a servo at full torque bends them by 0.1°
        joint.solref_limit = [4.0 * timestep, 1.0]
        joint.solimp_limit = [0.99, 0.999, 0.001, 0.5, 2.0]
    for geom in spec.geoms:  # links meet the ground, not each other
        geom.contype, geom.conaffinity, geom.condim = 1, 0, 3
        geom.friction = [FOOT_FRICTION, 0.005, 0.0001]
    relief = bool(np.ptp(ground.heights) > 0.0)
    _add_feet(spec, robot, relief)
    _add_ground(spec, ground)
    if on_stand:
        _add_stand(spec, robot)
    if payload is not None:
        cargo = spec.body(body_name(robot.body)).add_body(name="payload", pos=payload.at)
        cargo.mass, cargo.explicitinertial = payload.mass, True
        cargo.inertia = [1e-6 * payload.mass] * 3
    try:
        model = spec.compile()
    except ValueError as error:
        said = " ".join(str(error).split())[:200]
        cure = "Look at that part of the URDF."
        raise RobotError(
            robot.source, "", f"the physics engine refuses it: {said}", cure
        ) from error
    feet = np.array([model.geom(f"foot of {name}").id for name in robot.legs])
    _soften(model, feet, robot, ground)
    joints = [model.joint(name) for name in robot.joint_names]
    return Scene(
        model=model,
        at_q=np.array([joint.qposadr[0] for joint in joints], dtype=np.int64),
        at_v=np.array([joint.dofadr[0] for joint in joints], dtype=np.int64),
        foot_geoms=feet,
        foot_radius=model.geom_size[feet, 0].copy(),
        foot_friction=robot.sheet.foot.friction or FOOT_FRICTION,
        body=model.body(body_name(robot.body)).id,
        relief=relief,
        stand=int(model.body_mocapid[model.body("stand").id]) if on_stand else -1,
    )


def link_inertia(scene: Scene, data: mujoco.MjData, q: Floats) -> Floats:
    """Inertia behind each joint with all others held, least of pose q and zero, (J,) [kg·m²].

    Args:
        scene: The model.
        data: The engine's state; changed.
        q: Joint positions, (J,) [rad].
    """
    import mujoco

    least = np.full(len(q), np.inf)
    for pose in (q, np.zeros_like(q)):
        data.qpos[scene.at_q] = pose
        mujoco.mj_forward(scene.model, data)
        full = np.zeros((scene.model.nv, scene.model.nv))
        mujoco.mj_fullM(scene.model, data, full)
        least = np.minimum(least, full.diagonal()[scene.at_v])
    return least


def _hold(spec: Any, robot: Robot) -> None:
    """Weld the joints that belong to no leg at the positions where they are held."""
    for name, position in robot.held.items():
        joint = robot.tree.joints[name]
        body = spec.body(body_name(joint.child))
        if joint.kind is JointKind.PRISMATIC:
            body.pos = body.pos + joint.placement[:3, :3] @ joint.axis * position
        else:
            turn = np.array([cos(0.5 * position), *(sin(0.5 * position) * joint.axis)])
            body.quat = _product(np.asarray(body.quat), turn)
    for equality in list(spec.equalities):
        if equality.name1 in robot.held:
            spec.delete(equality)
    for name in robot.held:
        spec.delete(spec.joint(name))


def _product(a: Floats, b: Floats) -> Floats:
    import mujoco

    result = np.empty(4)
    mujoco.mju_mulQuat(result, a, b)
    return result


def _add_feet(spec: Any, robot: Robot, relief: bool) -> None:
    """A rubber ball at every foot point, felt by a sensor that only the truth reads.

    On a height field each foot meets but a plate of its own; see `_foothold_kernel`.
    """
    import mujoco

    if relief and len(robot.legs) > MOST_LEGS:
        raise RequestError("legs", len(robot.legs), f"at most {MOST_LEGS} on uneven ground")
    for index, (name, leg) in enumerate(robot.legs.items()):
        own = 1 << (index + 1) if relief else 1
        tip = spec.body(body_name(leg.chain.link_names[-1]))
        # A body of its own, so that the sensor hears the ball and not the shank beside it.
        body = tip.add_body(name=f"foot of {name}", pos=leg.chain.foot)
        radius = leg.chain.foot_radius or 0.005
        end = spec.body(body_name(leg.chain.foot_link))
        for geom in list(end.geoms):
            if geom.type == mujoco.mjtGeom.mjGEOM_SPHERE:
                geom.contype = 0  # our own ball takes its place
        body.add_geom(
            name=f"foot of {name}",
            type=mujoco.mjtGeom.mjGEOM_SPHERE,
            size=[radius, 0.0, 0.0],
            contype=own,
            conaffinity=0,
            condim=3,
            priority=1,
            mass=0.0,
        )
        if relief:
            under = spec.worldbody.add_body(name=f"plate of {name}", mocap=True)
            under.add_geom(
                type=mujoco.mjtGeom.mjGEOM_PLANE,
                size=[0.05, 0.05, 1.0],
                contype=0,
                conaffinity=own,
                condim=3,
                group=3,
            )
        body.add_site(
            name=f"foot of {name}",
            type=mujoco.mjtGeom.mjGEOM_SPHERE,
            size=[1.5 * radius] * 3,
        )
        spec.add_sensor(
            name=f"foot of {name}",
            type=mujoco.mjtSensor.mjSENS_TOUCH,
            objtype=mujoco.mjtObj.mjOBJ_SITE,
            objname=f"foot of {name}",
        )


def _add_stand(spec: Any, robot: Robot) -> None:
    """A bench stand: wherever it is put, the body is held there."""
    import mujoco

    spec.worldbody.add_body(name="stand", mocap=True)
    weld = spec.add_equality(
        type=mujoco.mjtEq.mjEQ_WELD,
        objtype=mujoco.mjtObj.mjOBJ_BODY,
        name1="stand",
        name2=body_name(robot.body),
    )
    weld.data = np.array([0.0] * 6 + [1.0, 0.0, 0.0, 0.0, 1.0, 0.0])


def _add_ground(spec: Any, ground: Ground) -> None:
    import mujoco

    world = spec.worldbody
    low, high = float(ground.heights.min()), float(ground.heights.max())
    options = {"name": "ground", "contype": 0, "conaffinity": 1, "condim": 3}
    if high == low:
        world.add_geom(
            type=mujoco.mjtGeom.mjGEOM_PLANE, size=[0, 0, 1], pos=[0.0, 0.0, low], **options
        )
        return
    rows, columns = ground.heights.shape
    half = 0.5 * ground.spacing * np.array([rows - 1, columns - 1])
    centre = np.asarray(ground.start) + half
    spec.add_hfield(
        name="ground",
        nrow=columns,
        ncol=rows,
        size=[half[0], half[1], high - low, 0.1],
        userdata=((ground.heights - low) / (high - low)).T.ravel(),
    )
    world.add_geom(
        type=mujoco.mjtGeom.mjGEOM_HFIELD,
        hfieldname="ground",
        pos=[centre[0], centre[1], low],
        **options,
    )


def _soften(model: Any, feet: NDArray[np.int64], robot: Robot, ground: Ground) -> None:
    """Give each foot the spring and damper of rubber on soil.

    The engine's force on a contact is ``f = (a_ref - a) / R`` with ``R = (1 - d) / d A`` and
    ``a_ref = -b v - k r``; A is the inverse mass it reckons for the foot. A spring of
    stiffness K is had by ``k = K R``, a damper B by ``b = B R`` (given to the engine times d,
    by which it divides). What is left of the law is a mass 1/R that rides on the contact,
    made just so heavy that the spring is stable at the time step whatever the foot weighs:
    ``1/R = K dt²``.

    Source: the engine's documentation, chapter Computation, "Constraint model".
    """
    stiffness = robot.sheet.foot.stiffness or FOOT_STIFFNESS
    if ground.stiffness is not None:
        stiffness = stiffness * ground.stiffness / (stiffness + ground.stiffness)
    friction = robot.sheet.foot.friction or FOOT_FRICTION
    if ground.friction is not None:
        friction = min(friction, ground.friction)
    step = model.opt.timestep
    for geom in feet:
        ball = model.geom_bodyid[geom]
        inverse_mass = model.body_invweight0[ball, 0]
        shank = 1.0 / model.body_invweight0[model.body_parentid[ball], 0]
        damping = min(2.0 * FOOT_DAMPING * np.sqrt(stiffness * shank), stiffness * step)
        riding = stiffness * step**2
        impedance = riding * inverse_mass / (1.0 + riding * inverse_mass)
        scale = impedance / riding
        model.geom_solref[geom] = [-stiffness * scale, -damping * scale]
        model.geom_solimp[geom] = [impedance, impedance, 0.001, 0.5, 2.0]
        model.geom_friction[geom, 0] = friction
