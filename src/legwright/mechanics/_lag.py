"""Kernel: how far drives lag behind their targets, and where that leaves a foot."""

from __future__ import annotations

from legwright.kernel import kernel

# Rows of the table of what gives; see `strain.Give`.
SERVO, COULOMB, DRIVING, BACKDRIVE, GEAR, PLAY, GIVES = range(7)

SMOOTH = 0.01
"""Torque over which play is passed [N·m]."""


@kernel
def lag(c, tau, rotor, goal, e, slope, wound):  # type: ignore[no-untyped-def]
    """How far each link is from its target under a torque, and how that changes with it.

    Args:
        c: What gives, (GIVES, J).
        tau: Torque on the links, (J,) [N·m].
        rotor: Where the rotors were, (J,) [rad].
        goal: Targets, (J,) [rad].
        e: Written: link position less target, (J,) [rad].
        slope: Written: its derivative, (J,) [rad/(N·m)].
        wound: Written: rotor ahead of link, (J,) [rad].
    """
    for j in range(len(tau)):
        t = tau[j]
        up = c[DRIVING, j] if t > 0.0 else c[BACKDRIVE, j]
        down = c[DRIVING, j] if t < 0.0 else c[BACKDRIVE, j]
        wound[j] = t / c[GEAR, j] + c[PLAY, j] * min(max(t / SMOOTH, -1.0), 1.0)
        gives = 1.0 / c[GEAR, j] + (c[PLAY, j] / SMOOTH if abs(t) < SMOOTH else 0.0)
        sign = 1.0 if t > 0.0 else -1.0
        low = -(t + c[COULOMB, j] + up * abs(t)) / c[SERVO, j]
        high = -(t - c[COULOMB, j] - down * abs(t)) / c[SERVO, j]
        e[j] = rotor[j] - goal[j] - wound[j]
        slope[j] = -gives
        if e[j] < low:
            e[j], slope[j] = low, -(1.0 + up * sign) / c[SERVO, j]
        elif e[j] > high:
            e[j], slope[j] = high, -(1.0 - down * sign) / c[SERVO, j]
        slope[j] = min(slope[j], -1e-6)


@kernel
def torques_under(own, jac, column, touch, force, tau):  # type: ignore[no-untyped-def]
    tau[:] = own
    for leg in range(len(touch)):
        if touch[leg]:
            for j in range(column[leg], column[leg + 1]):
                for k in range(3):
                    tau[j] -= jac[k, j] * force[leg, k]


@kernel
def place_of(point, height, normal, jac, column, leg, e, xi, out):  # type: ignore[no-untyped-def]
    """Where a contact point is against where it was planned, and its height over ground."""
    w = xi[3:]
    out[0] = xi[0] + w[1] * point[2] - w[2] * point[1]
    out[1] = xi[1] + w[2] * point[0] - w[0] * point[2]
    out[2] = xi[2] + w[0] * point[1] - w[1] * point[0]
    for j in range(column[leg], column[leg + 1]):
        for k in range(3):
            out[k] += jac[k, j] * e[j]
    return height + out[0] * normal[0] + out[1] * normal[1] + out[2] * normal[2]
