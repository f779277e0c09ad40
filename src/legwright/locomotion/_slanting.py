"""Kernel: how much of its slant a leg's posture allows; which way it goes is in `slant`."""

from __future__ import annotations

from legwright.kernel import within
from legwright.locomotion import _state as at
from legwright.locomotion._limb import DAMPING, chain, foot_jacobian, gram_inverse, room_of

LIVELY = 0.3
"""A slant leaves the joint that feels at least this speed [rad/s]; see `_contact.UNSURE`."""


@within
def lively(fixed, state, goal, leg):  # type: ignore[no-untyped-def]
    """Share of its slant at which the joint that feels still turns well, 0 to 1.

    Far out and high a leg goes inward by its knee alone, and its femur would stand.
    """
    foot, z, o, jac, G = room_of(fixed.packed)
    chain(fixed.packed, leg, state.q, foot, z, o)
    foot_jacobian(fixed.packed, leg, foot, z, o, jac)
    n = fixed.packed.column[leg + 1] - fixed.packed.column[leg]
    gram_inverse(jac, n, DAMPING, G)
    b = 0
    for k in range(n):
        if abs(jac[2, k]) > abs(jac[2, b]):
            b = k
    x, y = fixed.slant[leg, 0], fixed.slant[leg, 1]
    down = aside = 0.0  # least joint speeds, Jᵀ (J Jᵀ)⁻¹ v
    for i in range(3):
        down -= jac[i, b] * G[i, 2]
        aside += jac[i, b] * (G[i, 0] * x + G[i, 1] * y)
    if down * aside >= 0.0:
        return 1.0
    spare = abs(down) - LIVELY / goal.n[at.FALL_SPEED]
    return min(max(spare / abs(aside), 0.0), 1.0)
