"""Kernels: what is told by the torque that weight, inertia and friction leave over in a leg."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import within

UNSURE_BY = 0.8
"""Share of rotor torque and friction by which the model may be wrong while a foot flies."""
STRETCHED = 0.05
"""Least |det J| over its columns' lengths with which a leg's joints tell a force."""


@within
def surplus(packed, feeling, leg):  # type: ignore[no-untyped-def]
    """Torque that is left over in any joint of a leg at the most, over its gear's friction.

    A gear at rest holds as much as its friction, either way: so much may be left over under a
    foot that carries nothing. 0 where no friction is known.
    """
    most = 0.0
    for j in range(packed.column[leg], packed.column[leg + 1]):
        if feeling.friction[j] > 0.0:
            most = max(most, abs(feeling.steady[j]) / feeling.friction[j])
    return most


@within
def lifting(packed, leg, jacobian, up, feeling, qdd):  # type: ignore[no-untyped-def]
    """Upward force on the foot that all three joints of a leg agree on, and its doubt [N].

    A single lever hears a pull backward as one upward. With J the foot's Jacobian the ground's
    force F balances the residual torques, Jᵀ F = -τ, so that up · F = -w · τ with J w = up.

    Args:
        packed: The robot.
        leg: Which leg.
        jacobian: (3, J) of the feet, body frame [m/rad].
        up: (3,) direction against gravity, body frame.
        feeling: Residual torques and friction.
        qdd: (J,) joint accelerations asked for [rad/s²].

    Returns:
        Force and doubt; nan where the leg has not three joints, or is stretched.
    """
    c0 = packed.column[leg]
    if packed.column[leg + 1] - c0 != 3:
        return np.nan, 0.0
    a0, a1, a2 = jacobian[0, c0], jacobian[1, c0], jacobian[2, c0]
    b0, b1, b2 = jacobian[0, c0 + 1], jacobian[1, c0 + 1], jacobian[2, c0 + 1]
    d0, d1, d2 = jacobian[0, c0 + 2], jacobian[1, c0 + 2], jacobian[2, c0 + 2]
    n0, n1, n2 = b1 * d2 - b2 * d1, b2 * d0 - b0 * d2, b0 * d1 - b1 * d0
    det = a0 * n0 + a1 * n1 + a2 * n2
    sizes = (a0**2 + a1**2 + a2**2) * (b0**2 + b1**2 + b2**2) * (d0**2 + d1**2 + d2**2)
    if det * det <= STRETCHED * STRETCHED * sizes:
        return np.nan, 0.0
    w = (
        (up[0] * n0 + up[1] * n1 + up[2] * n2) / det,
        (
            up[0] * (d1 * a2 - d2 * a1) + up[1] * (d2 * a0 - d0 * a2) + up[2] * (d0 * a1 - d1 * a0)
        ) / det,
        (
            up[0] * (a1 * b2 - a2 * b1) + up[1] * (a2 * b0 - a0 * b2) + up[2] * (a0 * b1 - a1 * b0)
        ) / det,
    )  # fmt: skip
    force = doubt = 0.0
    for k in range(3):
        force -= w[k] * feeling.residual[c0 + k]
        jerky = abs(packed.rotor[c0 + k] * qdd[c0 + k]) + feeling.friction[c0 + k]
        doubt += (UNSURE_BY * abs(w[k]) * jerky) ** 2
    return force, math.sqrt(doubt)
