"""Kernels: foot and Jacobian of one leg, and the joint positions that follow a foot point."""

from __future__ import annotations

import math

import numpy as np

from legwright.kernel import kernel, within

ROUNDS = 6
"""Newton steps at most; a control step away, two suffice."""
CLOSE = 1e-9
"""Foot error that counts as none [m]."""
DAMPING = 1e-9
"""Added to J Jᵀ so that a straight leg does not fling its joints [m²]."""
PULL = 0.1
"""Share of the way to the rest pose that the free motion of a leg with many drives goes."""


@within
def chain(packed, leg, q, foot, z, o):  # type: ignore[no-untyped-def]
    """Foot point, axes and origins of the joints of one leg, body frame.

    Args:
        packed: `Packed` arrays of the robot.
        leg: Which leg.
        q: (J,) drive positions of all legs.
        foot: (3,), filled.
        z: (M or as many as the leg has, 3), filled from the first row on: the joints' axes.
        o: The same, their origins.
    """
    begin, stop, c0 = packed.first[leg], packed.first[leg + 1], packed.column[leg]
    n = packed.column[leg + 1] - c0
    a0, a1, a2, b0, b1, b2, c_0, c1, c2 = 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0
    px = py = pz = 0.0
    for i in range(stop - begin):
        m = begin + i
        s = packed.offset[m]
        for k in range(n):
            s += packed.coupling[m, k] * q[c0 + k]
        t, d = packed.turn[m], packed.shift[m]
        px += a0 * d[0] + a1 * d[1] + a2 * d[2]
        py += b0 * d[0] + b1 * d[1] + b2 * d[2]
        pz += c_0 * d[0] + c1 * d[1] + c2 * d[2]
        x0 = a0 * t[0, 0] + a1 * t[1, 0] + a2 * t[2, 0]
        y0 = a0 * t[0, 1] + a1 * t[1, 1] + a2 * t[2, 1]
        z0 = a0 * t[0, 2] + a1 * t[1, 2] + a2 * t[2, 2]
        x1 = b0 * t[0, 0] + b1 * t[1, 0] + b2 * t[2, 0]
        y1 = b0 * t[0, 1] + b1 * t[1, 1] + b2 * t[2, 1]
        z1 = b0 * t[0, 2] + b1 * t[1, 2] + b2 * t[2, 2]
        x2 = c_0 * t[0, 0] + c1 * t[1, 0] + c2 * t[2, 0]
        y2 = c_0 * t[0, 1] + c1 * t[1, 1] + c2 * t[2, 1]
        z2 = c_0 * t[0, 2] + c1 * t[1, 2] + c2 * t[2, 2]
        if packed.slides[m]:
            px, py, pz = px + s * z0, py + s * z1, pz + s * z2
            si, co = 0.0, 1.0
        else:
            si, co = math.sin(s), math.cos(s)
        a0, a1, a2 = co * x0 + si * y0, co * y0 - si * x0, z0
        b0, b1, b2 = co * x1 + si * y1, co * y1 - si * x1, z1
        c_0, c1, c2 = co * x2 + si * y2, co * y2 - si * x2, z2
        z[i, 0], z[i, 1], z[i, 2] = z0, z1, z2
        o[i, 0], o[i, 1], o[i, 2] = px, py, pz
    f = packed.foot[leg]
    foot[0] = px + a0 * f[0] + a1 * f[1] + a2 * f[2]
    foot[1] = py + b0 * f[0] + b1 * f[1] + b2 * f[2]
    foot[2] = pz + c_0 * f[0] + c1 * f[1] + c2 * f[2]


@within
def foot_jacobian(packed, leg, foot, z, o, jac):  # type: ignore[no-untyped-def]
    """Jacobian ``jac`` (3, n or more) of one leg's foot from what `chain` filled."""
    begin, c0 = packed.first[leg], packed.column[leg]
    n = packed.column[leg + 1] - c0
    for k in range(n):
        jac[0, k] = jac[1, k] = jac[2, k] = 0.0
    for i in range(packed.first[leg + 1] - begin):
        m = begin + i
        if packed.slides[m]:
            ax, ay, az = z[i, 0], z[i, 1], z[i, 2]
        else:
            rx, ry, rz = foot[0] - o[i, 0], foot[1] - o[i, 1], foot[2] - o[i, 2]
            ax = z[i, 1] * rz - z[i, 2] * ry
            ay = z[i, 2] * rx - z[i, 0] * rz
            az = z[i, 0] * ry - z[i, 1] * rx
        for k in range(n):
            rate = packed.coupling[m, k]
            jac[0, k] += rate * ax
            jac[1, k] += rate * ay
            jac[2, k] += rate * az


@kernel
def foot_of(packed, leg, q, foot):  # type: ignore[no-untyped-def]
    """Foot point ``foot`` (3,) of one leg at the drive positions ``q`` (J,), body frame."""
    count = packed.first[leg + 1] - packed.first[leg]
    chain(packed, leg, q, foot, np.empty((count, 3)), np.empty((count, 3)))


@within
def gram_inverse(jac, n, damping, G):  # type: ignore[no-untyped-def]
    """G (3, 3) = (J Jᵀ + damping)⁻¹, by cofactors."""
    a = b = c = d = e = f = 0.0
    for k in range(n):
        x, y, z = jac[0, k], jac[1, k], jac[2, k]
        a += x * x
        b += x * y
        c += x * z
        d += y * y
        e += y * z
        f += z * z
    a, d, f = a + damping, d + damping, f + damping
    p, q, r = d * f - e * e, c * e - b * f, b * e - c * d
    det = a * p + b * q + c * r
    inv = 1.0 / det
    G[0, 0], G[0, 1], G[0, 2] = p * inv, q * inv, r * inv
    G[1, 0], G[1, 1], G[1, 2] = q * inv, (a * f - c * c) * inv, (b * c - a * e) * inv
    G[2, 0], G[2, 1], G[2, 2] = r * inv, (b * c - a * e) * inv, (a * d - b * b) * inv


@within
def room_of(packed):  # type: ignore[no-untyped-def]
    """Room for `pursue` to work in: foot, axes and origins, Jacobian and its Gram matrix."""
    M, n = packed.coupling.shape
    return np.empty(3), np.empty((M, 3)), np.empty((M, 3)), np.empty((3, n)), np.empty((3, 3))


@within
def pursue(packed, leg, target, q, lower, upper, rest, room):  # type: ignore[no-untyped-def]
    """Move a leg's part of ``q`` (J,) to the pose nearby that puts its foot on ``target`` (3,).

    Damped Newton steps inside the joint limits; a leg with more than three drives leans
    towards ``rest`` (J,) in its free motion. Returns the foot error that is left [m].

    Source: damped least squares, Nakamura & Hanafusa 1986 (from memory).
    """
    c0 = packed.column[leg]
    n = packed.column[leg + 1] - c0
    foot, z, o, jac, G = room
    miss = np.inf
    for turn in range(ROUNDS):
        chain(packed, leg, q, foot, z, o)
        ex, ey, ez = target[0] - foot[0], target[1] - foot[1], target[2] - foot[2]
        miss = math.sqrt(ex * ex + ey * ey + ez * ez)
        if miss < CLOSE and (n <= 3 or turn > 0):
            break
        if turn == ROUNDS - 1:
            break
        foot_jacobian(packed, leg, foot, z, o, jac)
        gram_inverse(jac, n, DAMPING, G)
        if n > 3:  # e -> e + J (q - rest) pull: least deviation from rest
            for k in range(n):
                w = PULL * (q[c0 + k] - rest[c0 + k])
                ex += jac[0, k] * w
                ey += jac[1, k] * w
                ez += jac[2, k] * w
        ux = G[0, 0] * ex + G[0, 1] * ey + G[0, 2] * ez
        uy = G[1, 0] * ex + G[1, 1] * ey + G[1, 2] * ez
        uz = G[2, 0] * ex + G[2, 1] * ey + G[2, 2] * ez
        for k in range(n):
            step = jac[0, k] * ux + jac[1, k] * uy + jac[2, k] * uz
            if n > 3:
                step -= PULL * (q[c0 + k] - rest[c0 + k])
            step = min(max(step, -0.3), 0.3)
            q[c0 + k] = min(max(q[c0 + k] + step, lower[c0 + k]), upper[c0 + k])
    return miss


@kernel
def follow(packed, leg, target, q, lower, upper, rest):  # type: ignore[no-untyped-def]
    """`pursue` in room of its own."""
    return pursue(packed, leg, target, q, lower, upper, rest, room_of(packed))
