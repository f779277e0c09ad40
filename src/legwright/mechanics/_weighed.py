"""Kernel: torques, foot forces and margins of a motion, from rates to grip in one go."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within
from legwright.mechanics._cones import distribution
from legwright.mechanics._lanes import lanes, outputs
from legwright.mechanics._polygon import stance_margins


@kernel
def weighed(packed, motion, gravity, contact, friction, pushed, rotors):  # type: ignore[no-untyped-def]
    """What a motion asks of drives and ground; see `loads.loads`.

    Args:
        packed: The robot, `Packed`.
        motion: q (T, J), qd (T, J), qdd (T, J), twist (T, 6), acceleration (T, 6), and the
            body's poses in the ground frame (T, 7).
        gravity: (3,) ground frame [m/s²].
        contact: (T, L) feet that stand.
        friction: (L,)
        pushed: (T, L, 3) given forces on feet that do not stand [N], or (0, L, 3).
        rotors: Whether rotor inertia counts.

    Returns:
        Torque (T, J); force (T, L, 3); residual (T,); margin (T,) of the weight alone; grip
        (T, L); centre of mass (T, 3); wrench (T, 6) that standing feet must supply; feet
        (T, L, 3); gravity (T, 3), body axes.
    """
    q, qd, qdd, twist, acceleration, body = motion
    T, J = q.shape
    L = contact.shape[1]
    down, normals, felt = np.empty((T, 3)), np.empty((T, L, 3)), np.empty((T, 6))
    for t in range(T):
        _down(body, gravity, t, down, normals)
        for k in range(3):
            felt[t, k], felt[t, 3 + k] = acceleration[t, k] - down[t, k], acceleration[t, 3 + k]
    rates = np.empty((J, T)), np.empty((J, T))
    for t in range(T):
        for j in range(J):
            rates[0][j, t], rates[1][j, t] = qd[t, j], qdd[t, j]
    none = np.empty((0, 0, 3)), np.empty((0, 0, 3)), np.empty(0, dtype=np.bool_), 0.0, 0.0
    idle, wrench, feet, jacobian, gathered = out = outputs(T, J, L)
    lanes(packed, q, none, twist, felt, rates, out)
    if len(pushed):
        _without(wrench, feet, pushed)
    force, residual = distribution(feet, normals, wrench, friction, contact)
    if len(pushed):
        force += pushed
    torque, grip = np.empty((T, J)), np.empty((T, L))
    for leg in range(L):
        for t in range(T):
            fx, fy, fz = force[t, leg, 0], force[t, leg, 1], force[t, leg, 2]
            grip[t, leg] = _grip(fx, fy, fz, normals[t, leg]) if contact[t, leg] else 0.0
            for j in range(packed.column[leg], packed.column[leg + 1]):
                own = idle[j, t] + (packed.rotor[j] * qdd[t, j] if rotors else 0.0)
                arm = jacobian[j]
                torque[t, j] = own - (arm[0, t] * fx + arm[1, t] * fy + arm[2, t] * fz)
    com = gathered[:, 1:4].copy()
    margin = stance_margins(feet, com, down, contact)
    return torque, force, residual, margin, grip, com, wrench, feet, down


@within
def _down(body, gravity, t, down, normals):  # type: ignore[no-untyped-def]
    """Gravity and the ground's normals at one sample, body axes; see `pose.rotations`."""
    w, x, y, z = body[t, 3], body[t, 4], body[t, 5], body[t, 6]
    g, h, u = gravity[0], gravity[1], gravity[2]
    ux, uy, uz = 2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)
    down[t, 0] = g * (1 - 2 * (y * y + z * z)) + h * (2 * (x * y + w * z)) + u * ux
    down[t, 1] = g * (2 * (x * y - w * z)) + h * (1 - 2 * (x * x + z * z)) + u * uy
    down[t, 2] = g * (2 * (x * z + w * y)) + h * (2 * (y * z - w * x)) + u * uz
    for leg in range(normals.shape[1]):
        normals[t, leg, 0], normals[t, leg, 1], normals[t, leg, 2] = ux, uy, uz


@within
def _without(wrench, feet, pushed):  # type: ignore[no-untyped-def]
    """Takes the wrench of given forces from what standing feet must supply."""
    for t in range(feet.shape[0]):
        for leg in range(feet.shape[1]):
            px, py, pz = feet[t, leg, 0], feet[t, leg, 1], feet[t, leg, 2]
            fx, fy, fz = pushed[t, leg, 0], pushed[t, leg, 1], pushed[t, leg, 2]
            wrench[t, 0] -= fx
            wrench[t, 1] -= fy
            wrench[t, 2] -= fz
            wrench[t, 3] -= py * fz - pz * fy
            wrench[t, 4] -= pz * fx - px * fz
            wrench[t, 5] -= px * fy - py * fx


@within
def _grip(x, y, z, normal):  # type: ignore[no-untyped-def]
    """Tangential over normal force; 0 where nothing presses."""
    height = x * normal[0] + y * normal[1] + z * normal[2]
    if not height > 0.0:
        return 0.0
    x, y, z = x - height * normal[0], y - height * normal[1], z - height * normal[2]
    return math.sqrt(x * x + y * y + z * z) / height
