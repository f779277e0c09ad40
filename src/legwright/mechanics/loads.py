"""Loads of a motion: what it asks of joints and ground, sample by sample."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.errors import RequestError
from legwright.mechanics._cones import distribution
from legwright.mechanics._recursion import Packed
from legwright.mechanics._servo import one_kind
from legwright.mechanics._weighed import weighed
from legwright.mechanics.balance import static_margin
from legwright.mechanics.dynamics import packed, with_payload
from legwright.mechanics.forces import BALANCED
from legwright.mechanics.held import held_torques
from legwright.mechanics.loading import Loads, PointMass
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import still, upward
from legwright.mechanics.strain import Give, strained
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

ASSUMED_FRICTION = 0.6
"""Coefficient of friction where the sheet states none: an assumption, no published source."""

HAIR = 1e-9
"""Share by which rounding may let a foot's grip look less than it is."""

Push = tuple[str | int | NDArray[np.int64], ArrayLike]
"""A leg, by name or place in `Robot.legs`, and the force on its foot, body axes [N]; or the
place of another leg for each sample, (T,)."""


def friction_of(robot: Robot) -> float:
    """Coefficient of friction that the sheet states, or the assumed one."""
    stated = robot.sheet.requirements.friction
    return ASSUMED_FRICTION if stated is None else float(stated)


def loads(
    robot: Robot,
    motion: Motion,
    *,
    payload: PointMass | None = None,
    friction: float | None = None,
    push: Push | None = None,
    rotors: bool = True,
    give: Give | None = None,
) -> Loads:
    """Joint torques, foot forces and static stability margin of a motion.

    The stance feet supply what the motion needs (inverse dynamics of all links), inside
    friction cones about the ground's normal and with the least sum of squared foot forces.
    Forces act at the foot points; the foot's rounding is left out. With ``give`` the feet stay
    where they touched instead, legs give and feet roll: torques and forces are then those of
    `strain.strained`, and the motion must be one closed cycle.

    Args:
        robot: The robot.
        motion: One cycle, or poses at rest (`still`).
        payload: Fixed to the body.
        friction: Coefficient at every foot; the sheet's, else 0.6, when None.
        push: (leg, force): that leg's foot pushes something, which pushes back with this
            force, (3,), body axes [N]; upward when the foot presses down. The force is given,
            so this foot is no stance foot, and the margin is that of weight and push together.
        rotors: Whether rotor inertia counts, where servos state it.
        give: How far drives and feet give; not together with ``push``.

    Returns:
        Loads; see there.

    Raises:
        RequestError: Where motion and robot do not fit, or the leg of ``push`` is unknown.
    """
    arrays = with_payload(packed(robot), payload)
    _check(robot, motion)
    mu = friction_of(robot) if friction is None else friction
    if not (np.isfinite(mu) and mu >= 0.0):
        raise RequestError("friction", mu, "finite and >= 0")
    contact = np.array(motion.contact, dtype=np.bool_, order="C")
    pushed = _pushed(robot, push, contact)
    torque, force, residual, margin, grip, com, wrench, feet, gravity = weighed(
        arrays, _rows(motion), one_kind(motion.gravity), contact,
        np.full(contact.shape[1], float(mu)), pushed, rotors,
    )  # fmt: skip
    if push is not None:
        over = _landing(arrays, feet, com, contact, gravity, pushed)
        margin = static_margin(feet, over, contact=contact, gravity=gravity)
    if give is not None:
        if push is not None:
            raise RequestError("push", push, "None where `give` is given")
        shared = strained(robot, motion, give, friction=mu, payload=payload)
        torque, force = shared.torque, shared.force
        grip = _grip(force, upward(motion.body[:, None, 3:]), contact)
    return Loads(
        torque=torque,
        force=force,
        margin=margin,
        com=com,
        feasible=residual <= BALANCED,
        grip=grip,
        held_torque=held_torques(robot),
        wrench=wrench,
    )


def balance_of(motion: Motion, loads: Loads) -> Callable[[float], bool]:
    """What tells whether foot forces can balance a motion with a coefficient of friction.

    Args:
        motion: The sampled cycle.
        loads: Its loads, no foot pushing anything.

    Returns:
        A function of the coefficient; the same answers as `loads(...).feasible.all()`.
    """
    feet, contact, wrench, legs = motion.feet, motion.contact, loads.wrench, loads.grip.shape[1]
    up = upward(motion.body[:, 3:])
    # the least coefficient that each sample is known to bear: the forces found hold with theirs
    known = np.where(loads.feasible, (1.0 + HAIR) * loads.grip.max(axis=1), np.inf)
    hardest = int(known.argmax())  # then the sample that fails most is asked first

    def left(rows: NDArray[np.int64] | slice, friction: float) -> Floats:
        normals = np.repeat(up[rows, None], legs, axis=1)
        mu = np.full(legs, friction)
        return np.asarray(distribution(feet[rows], normals, wrench[rows], mu, contact[rows])[1])

    def holds(friction: float) -> bool:
        nonlocal hardest
        if known[hardest] > friction:
            if not left(slice(hardest, hardest + 1), friction)[0] <= BALANCED:
                return False
            known[hardest] = friction
        rows = np.flatnonzero(known > friction)
        if not rows.size:
            return True
        missing = left(rows, friction)
        good = missing <= BALANCED
        known[rows[good]] = friction
        if good.all():
            return True
        hardest = int(rows[missing.argmax()])  # a sample where a number is missing comes first
        return False

    return holds


def standing(
    robot: Robot,
    q: ArrayLike,
    *,
    contact: ArrayLike | None = None,
    gravity: ArrayLike | None = None,
    payload: PointMass | None = None,
    friction: float | None = None,
    push: Push | None = None,
) -> Loads:
    """Loads of poses at rest: one pose, or each of a sequence on its own.

    Args:
        robot: The robot.
        q: Joint positions, (J,) or (T, J) [rad].
        contact: Feet that stand, (L,) or (T, L); all when None.
        gravity: In the ground frame, (3,) [m/s²]; see `pose.gravity_on` for slopes.
        payload: As for `loads`, like the rest.
        friction: Coefficient at every foot.
        push: (leg, force).

    Returns:
        Loads of T samples (T = 1 for one pose).
    """
    motion = still(robot, q, contact, gravity=gravity)
    return loads(robot, motion, payload=payload, friction=friction, push=push)


def _check(robot: Robot, motion: Motion) -> None:
    if motion.joint_names != robot.joint_names:
        raise RequestError("motion", motion.joint_names, f"a motion of {robot.joint_names}")
    if motion.contact.shape != (len(motion.q), len(robot.legs)):
        raise RequestError("motion.contact", motion.contact.shape, "of shape (T, L)")
    if not np.any(motion.gravity):
        raise RequestError("gravity", motion.gravity, "longer than zero")


def _rows(motion: Motion) -> tuple[Floats, ...]:
    """What of a motion its loads depend on, (T, ...) each."""
    samples, joints = len(motion.q), len(motion.joint_names)
    asked = {
        "q": joints, "qd": joints, "qdd": joints, "twist": 6, "acceleration": 6, "body": 7,
    }  # fmt: skip
    rows = {name: one_kind(getattr(motion, name)) for name in asked}
    for name, columns in asked.items():
        if rows[name].shape != (samples, columns):
            raise RequestError(
                f"motion.{name}", rows[name].shape, f"of shape ({samples}, {columns})"
            )
    return tuple(rows.values())


def _pushed(robot: Robot, push: Push | None, contact: NDArray[np.bool_]) -> Floats:
    """Force on the pushing foot, (T, L, 3); takes that foot out of ``contact``.

    (0, L, 3) where none pushes.
    """
    if push is None:
        return np.empty((0, contact.shape[1], 3))
    pushed = np.zeros((*contact.shape, 3))
    leg, force = push
    names = list(robot.legs)
    if isinstance(leg, np.ndarray) and leg.shape == (len(pushed),):
        index = leg
    elif leg in names:
        index = np.array(names.index(str(leg)))
    elif isinstance(leg, int) and 0 <= leg < len(names):
        index = np.array(leg)
    else:
        raise RequestError("push", leg, "a leg of " + ", ".join(names))
    samples = np.arange(len(pushed))
    pushed[samples, index] = np.asarray(force, dtype=np.float64)
    contact[samples, index] = False
    return pushed


def _landing(
    arrays: Packed, feet: Floats, com: Floats, contact: NDArray[np.bool_], gravity: Floats,
    pushed: Floats,
) -> Floats:  # fmt: skip
    """Where weight and push together land on the ground, (T, 3); NaN where they do not.

    The point of the horizontal plane at the stance feet's mean height about which weight and
    push have no tipping moment; without a push it lies under the centre of mass.
    """
    weight = arrays.mass.sum() * gravity
    force = weight + pushed.sum(axis=1)
    count = np.maximum(contact.sum(axis=1), 1)[:, None]
    centre = (feet * contact[:, :, None]).sum(axis=1) / count
    moment = np.cross(com - centre, weight)
    moment += np.cross(feet - centre[:, None], pushed).sum(axis=1)
    down = gravity / np.linalg.norm(gravity, axis=1, keepdims=True)
    pressing = (force * down).sum(axis=1, keepdims=True)
    offset = np.cross(down, moment) / np.where(pressing > 0.0, pressing, np.nan)
    return np.asarray(centre + offset)


def _grip(force: Floats, normals: Floats, contact: NDArray[np.bool_]) -> Floats:
    """Tangential over normal force of the stance feet, (T, L)."""
    normal = (force * normals).sum(axis=2)
    side = np.linalg.norm(force - normal[:, :, None] * normals, axis=2)
    return np.where(contact & (normal > 0.0), side / np.where(normal > 0.0, normal, 1.0), 0.0)
