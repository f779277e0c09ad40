"""Inverse dynamics of the whole floating robot: trunk and serial legs."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from legwright.errors import RequestError
from legwright.mechanics._lanes import lanes, outputs
from legwright.mechanics._recursion import Packed
from legwright.mechanics.loading import PointMass
from legwright.robot.chain import Chain
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo
from legwright.robot.tree import Floats, Solid, read_only


class Dynamics(NamedTuple):
    """What T samples of motion need, before any contact; all in body axes."""

    torque: Floats
    """(T, J): torque of each drive while no foot touches anything [N·m]."""
    wrench: Floats
    """(T, 6): force and moment about the body origin that contacts must supply [N, N·m]."""
    feet: Floats
    """(T, L, 3): foot points in the body frame [m]."""
    jacobian: Floats
    """(T, 3, J): column j is the derivative of drive j's own foot by its position [m/rad]."""
    com: Floats
    """(T, 3): centre of mass in the body frame [m]."""
    momentum: Floats
    """(T, 6): linear momentum, and angular momentum about the centre of mass [kg·m/s, kg·m²/s]."""
    kinetic: Floats
    """(T,): kinetic energy, rotors left out [J]."""


def reflected(servo: Servo | None) -> float:
    """Rotor inertia seen at the servo's output: inertia · ratio² [kg·m²]; 0 where unknown."""
    if servo is None or servo.rotor_inertia is None:
        return 0.0
    return float(servo.rotor_inertia) * (servo.gear_ratio or 1.0) ** 2


@lru_cache(maxsize=64)
def _towards(*axis: float) -> Floats:
    """A rotation whose z axis is ``axis``, (3, 3); most joints turn about one of a few."""
    start = np.eye(3)[int(np.argmin(np.abs(axis)))]
    x = np.cross(start, axis)
    x /= np.linalg.norm(x)
    return read_only(np.stack([x, np.cross(axis, x), axis], axis=1))


def pack(trunk: Solid, chains: list[Chain], rotor: Floats) -> Packed:
    """Flat arrays of a body with legs, as the kernel reads them.

    Args:
        trunk: All that moves with the body, in the body frame.
        chains: The legs, in the order of the J axis.
        rotor: (J,) rotor inertia seen at each drive's output [kg·m²].

    Returns:
        The packed robot.
    """
    drives = [len(chain.joint_names) for chain in chains]
    moving = [len(chain.moving_names) for chain in chains]
    first = np.concatenate([[0], np.cumsum(moving)]).astype(np.int64)
    coupling = np.zeros((first[-1], max(drives)))
    turn, shift = np.empty((first[-1], 3, 3)), np.empty((first[-1], 3))
    mass, com = np.empty(first[-1] + 1), np.empty((first[-1] + 1, 3))
    inertia, foot = np.empty((first[-1] + 1, 3, 3)), np.empty((len(chains), 3))
    mass[-1], com[-1], inertia[-1] = trunk.mass, trunk.com, trunk.inertia
    for index, (start, n, chain) in enumerate(zip(first, drives, chains, strict=False)):
        coupling[start : start + len(chain.moving_names), :n] = chain.coupling
        before = np.eye(3)  # turns the frame before into the one whose z is its axis
        for i, (placement, solid) in enumerate(zip(chain.placements, chain.solids, strict=True)):
            own, m = _towards(*chain.axes[i].tolist()), start + i
            turn[m] = before.T @ placement[:3, :3] @ own
            shift[m] = before.T @ placement[:3, 3]
            mass[m], com[m] = solid.mass, own.T @ solid.com
            inertia[m] = own.T @ solid.inertia @ own
            before = own
        foot[index] = before.T @ chain.foot
    return Packed(
        first=first,
        column=np.concatenate([[0], np.cumsum(drives)]).astype(np.int64),
        turn=turn,
        shift=shift,
        slides=np.array([slides for chain in chains for slides in chain.prismatic], dtype=np.bool_),
        coupling=coupling,
        offset=np.concatenate([chain.offset for chain in chains]).astype(np.float64),
        mass=mass,
        com=com,
        inertia=inertia,
        foot=foot,
        rotor=np.array(rotor, dtype=np.float64),
    )


@lru_cache(maxsize=4)
def packed(robot: Robot) -> Packed:
    """The robot as flat arrays; remembered, since robots are frozen."""
    rotor = np.array([reflected(robot.servos.get(name)) for name in robot.joint_names])
    return pack(robot.trunk, [leg.chain for leg in robot.legs.values()], rotor)


def with_payload(bare: Packed, payload: PointMass | None) -> Packed:
    """The packed robot with a payload fixed to its trunk.

    Source: two bodies held together turn about their common centre like their reduced mass at
    their distance (parallel-axis theorem, textbook).
    """
    if payload is None or payload.mass == 0.0:
        return bare
    mass, com, inertia = bare.mass.copy(), bare.com.copy(), bare.inertia.copy()
    arm = np.asarray(payload.at, dtype=np.float64) - com[-1]
    share = payload.mass / (mass[-1] + payload.mass)
    reduced = mass[-1] * share
    com[-1] += share * arm
    inertia[-1] += reduced * (arm @ arm * np.eye(3) - arm[:, None] * arm)
    mass[-1] += payload.mass
    return bare._replace(mass=mass, com=com, inertia=inertia)


def _rows(name: str, value: ArrayLike, samples: int, columns: int) -> Floats:
    array = np.array(value, dtype=np.float64, order="C", ndmin=2)  # a writable private copy
    if array.shape != (samples, columns):
        raise RequestError(name, array.shape, f"an array of shape ({samples}, {columns})")
    return array


_GIVEN = (np.empty((0, 0, 3)), np.empty((0, 0, 3)), np.ones(0, dtype=np.bool_), 0.0, 0.0)
"""No course: the rates of all drives are given."""


def inverse_dynamics(
    robot: Packed,
    q: ArrayLike,
    qd: ArrayLike,
    qdd: ArrayLike,
    *,
    twist: ArrayLike,
    acceleration: ArrayLike,
    gravity: ArrayLike,
    rotors: bool = True,
) -> Dynamics:
    """Torques and base wrench that a motion needs while nothing touches the robot.

    The wrench is what contacts have to supply; a foot force f then adds -Jᵀf to the torques.

    Args:
        robot: The packed robot.
        q: (T, J) drive positions [rad].
        qd: (T, J) [rad/s].
        qdd: (T, J) [rad/s²].
        twist: (T, 6) velocity of the body origin and angular velocity, body axes.
        acceleration: (T, 6) acceleration of the body origin against the ground, gravity left
            out, and angular acceleration, body axes.
        gravity: (T, 3) or (3,), body axes [m/s²].
        rotors: Whether the servos' rotor inertia counts (inertia · ratio² · qdd; its
            gyroscopic part is left out).

    Returns:
        Dynamics; see there.

    Raises:
        RequestError: Where a shape does not fit.

    Source: Newton-Euler recursion; Luh, Walker, Paul 1980 (from memory); Featherstone, Rigid
        Body Dynamics Algorithms, 2008, ch. 5 (from memory). Tests hold it against Pinocchio.
    """
    q = np.array(q, dtype=np.float64, order="C", ndmin=2)
    T, J = q.shape[0], int(robot.column[-1])
    if q.shape != (T, J):
        raise RequestError("q", q.shape, f"an array of shape (T, {J})")
    qdd = _rows("qdd", qdd, T, J)
    felt = _rows("acceleration", acceleration, T, 6)
    felt[:, :3] -= np.asarray(gravity, dtype=np.float64)
    rates = np.array(_rows("qd", qd, T, J).T, order="C"), np.array(qdd.T, order="C")
    out = outputs(T, J, len(robot.foot))
    lanes(robot, q, _GIVEN, _rows("twist", twist, T, 6), felt, rates, out)
    wrench, feet, gathered = out[1], out[2], out[4]
    torque, jacobian = np.array(out[0].T, order="C"), np.array(out[3].T, order="C")
    if rotors:
        torque += robot.rotor * qdd
    com, momentum, kinetic = gathered[:, 1:4], gathered[:, 4:10], gathered[:, 10]
    return Dynamics(torque, wrench, feet, jacobian, com, momentum, kinetic)
