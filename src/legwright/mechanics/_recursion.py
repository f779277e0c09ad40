"""Kernel: the Newton-Euler recursion of a body with serial legs, all in body axes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from legwright.robot.tree import Floats


class Packed(NamedTuple):
    """A robot as flat arrays; M moving joints leg by leg, base to foot."""

    first: NDArray[np.int64]
    """(L + 1,): leg l has the moving joints first[l] .. first[l + 1] - 1."""
    column: NDArray[np.int64]
    """(L + 1,): leg l has the columns column[l] .. column[l + 1] - 1 of the J axis."""
    turn: Floats
    """(M, 3, 3): orientation of the joint frame in the frame before it, joint at zero."""
    shift: Floats
    """(M, 3): origin of the joint frame in the frame before it [m]."""
    axis: Floats
    """(M, 3): joint axis in its own frame."""
    slides: NDArray[np.bool_]
    """(M,): True where the joint is prismatic."""
    coupling: Floats
    """(M, n): rate of the joint per drive of its leg; n of the leg with most drives."""
    offset: Floats
    """(M,): joint position with all drives at zero [rad or m]."""
    mass: Floats
    """(M + 1,): mass of what each joint carries, then of the trunk [kg]."""
    com: Floats
    """(M + 1, 3): their centres of mass in their own frames [m]."""
    inertia: Floats
    """(M + 1, 3, 3): their inertias about the centres of mass, own axes [kg·m²]."""
    foot: Floats
    """(L, 3): foot point in the last joint's frame [m]."""
    rotor: Floats
    """(J,): rotor inertia seen at each drive's output [kg·m²]."""


@njit(cache=True)
def _cross(a, b, out):  # type: ignore[no-untyped-def]
    out[0] = a[1] * b[2] - a[2] * b[1]
    out[1] = a[2] * b[0] - a[0] * b[2]
    out[2] = a[0] * b[1] - a[1] * b[0]


@njit(cache=True)
def _apply(R, v, out):  # type: ignore[no-untyped-def]
    for i in range(3):
        out[i] = R[i, 0] * v[0] + R[i, 1] * v[1] + R[i, 2] * v[2]


@njit(cache=True)
def _multiply(A, B, out):  # type: ignore[no-untyped-def]
    for i in range(3):
        for j in range(3):
            out[i, j] = A[i, 0] * B[0, j] + A[i, 1] * B[1, j] + A[i, 2] * B[2, j]


@njit(cache=True)
def _rotation(axis, angle, out):  # type: ignore[no-untyped-def]
    """Turn by ``angle`` about the unit ``axis`` (Rodrigues' formula)."""
    x, y, z = axis[0], axis[1], axis[2]
    s, c = np.sin(angle), np.cos(angle)
    d = 1.0 - c
    out[0, 0], out[0, 1], out[0, 2] = c + d * x * x, d * x * y - s * z, d * x * z + s * y
    out[1, 0], out[1, 1], out[1, 2] = d * x * y + s * z, c + d * y * y, d * y * z - s * x
    out[2, 0], out[2, 1], out[2, 2] = d * x * z - s * y, d * y * z + s * x, c + d * z * z


@njit(cache=True)
def _carry(w, wd, r, v, a):  # type: ignore[no-untyped-def]
    """Move velocity and acceleration of a point along ``r`` of the same rigid body, in place."""
    cx = w[1] * r[2] - w[2] * r[1]
    cy = w[2] * r[0] - w[0] * r[2]
    cz = w[0] * r[1] - w[1] * r[0]
    v[0] += cx
    v[1] += cy
    v[2] += cz
    a[0] += wd[1] * r[2] - wd[2] * r[1] + w[1] * cz - w[2] * cy
    a[1] += wd[2] * r[0] - wd[0] * r[2] + w[2] * cx - w[0] * cz
    a[2] += wd[0] * r[1] - wd[1] * r[0] + w[0] * cy - w[1] * cx


@njit(cache=True)
def _weigh(mass, com, inertia, state, force, total):  # type: ignore[no-untyped-def]  # noqa: PLR0917
    """Net force and moment about the body origin that one solid's motion needs.

    ``state`` has the rows of R (0-2) then p, w, wd, v, a of the solid's frame; ``force`` is
    written (6,); ``total`` gathers m, m·c (3), linear (3) and angular (3) momentum about the
    body origin, and kinetic energy.
    """
    R = state[:3]
    p, w, wd = state[3], state[4], state[5]
    work = np.empty((7, 3))
    r, v, a, local, Iw, Iwd, c = work
    _apply(R, com, r)
    for i in range(3):
        v[i], a[i], c[i] = state[6, i], state[7, i], p[i] + r[i]
    _carry(w, wd, r, v, a)
    for source, target in ((w, Iw), (wd, Iwd)):
        for i in range(3):
            local[i] = R[0, i] * source[0] + R[1, i] * source[1] + R[2, i] * source[2]
        _apply(inertia, local, target)
        for i in range(3):
            local[i] = target[i]
        _apply(R, local, target)
    total[0] += mass
    kinetic = 0.0
    for i in range(3):
        j, k = (i + 1) % 3, (i + 2) % 3
        force[i] = mass * a[i]
        force[3 + i] = Iwd[i] + w[j] * Iw[k] - w[k] * Iw[j] + mass * (c[j] * a[k] - c[k] * a[j])
        total[1 + i] += mass * c[i]
        total[4 + i] += mass * v[i]
        total[7 + i] += Iw[i] + mass * (c[j] * v[k] - c[k] * v[j])
        kinetic += 0.5 * (mass * v[i] * v[i] + w[i] * Iw[i])
    total[10] += kinetic


@njit(cache=True)
def _step(packed, m, s, sd, sdd, state, axis, work):  # type: ignore[no-untyped-def]  # noqa: PLR0917
    """Advance ``state`` from the frame before moving joint ``m`` to its own frame."""
    R, w, wd = state[:3], state[4], state[5]
    r, old, spin = work[0], work[1:4], work[4:7]
    _apply(R, packed.shift[m], r)
    for i in range(3):
        for j in range(3):
            old[i, j] = R[i, j]
    _multiply(old, packed.turn[m], R)
    _apply(R, packed.axis[m], axis)
    if packed.slides[m]:
        for i in range(3):
            r[i] += axis[i] * s
    for i in range(3):
        state[3, i] += r[i]
    _carry(w, wd, r, state[6], state[7])
    if packed.slides[m]:
        for i in range(3):
            j, k = (i + 1) % 3, (i + 2) % 3
            state[6, i] += axis[i] * sd
            state[7, i] += axis[i] * sdd + 2.0 * sd * (w[j] * axis[k] - w[k] * axis[j])
        return
    _rotation(packed.axis[m], s, spin)
    for i in range(3):
        for j in range(3):
            old[i, j] = R[i, j]
    _multiply(old, spin, R)
    _cross(w, axis, r)
    for i in range(3):
        wd[i] += axis[i] * sdd + r[i] * sd
        w[i] += axis[i] * sd


@njit(cache=True)
def recursion(packed, q, qd, qdd, twist, acceleration):  # type: ignore[no-untyped-def]  # noqa: PLR0917
    """Inverse dynamics without contact, sample by sample.

    Args:
        packed: The robot.
        q: (T, J) drive positions.
        qd: (T, J) their velocities.
        qdd: (T, J) their accelerations.
        twist: (T, 6) velocity of the body origin and angular velocity, body axes.
        acceleration: (T, 6) acceleration of the body origin less gravity, and angular
            acceleration, body axes.

    Returns:
        torque (T, J); wrench (T, 6) on the body frame's origin; feet (T, L, 3); jacobian
        (T, 3, J), column j for the foot of drive j's leg; gathered (T, 11): mass, first
        moment of mass (3), linear momentum (3), angular momentum about the body origin (3),
        kinetic energy.
    """
    T, J = q.shape
    L = packed.foot.shape[0]
    M = packed.axis.shape[0]
    torque, wrench = np.zeros((T, J)), np.zeros((T, 6))
    feet, jacobian, gathered = np.zeros((T, L, 3)), np.zeros((T, 3, J)), np.zeros((T, 11))
    state, force = np.zeros((8, 3)), np.zeros((M + 1, 6))
    axes, origins = np.zeros((M, 3)), np.zeros((M, 3))
    work, load, r = np.zeros((7, 3)), np.zeros(6), np.zeros(3)
    for t in range(T):
        for leg in range(L + 1):  # the trunk comes last, with no joints
            state[:] = 0.0
            for i in range(3):
                state[i, i] = 1.0
                state[4, i], state[5, i] = twist[t, 3 + i], acceleration[t, 3 + i]
                state[6, i], state[7, i] = twist[t, i], acceleration[t, i]
            if leg == L:
                _weigh(packed.mass[M], packed.com[M], packed.inertia[M], state, force[M],
                       gathered[t])  # fmt: skip
                for i in range(6):
                    wrench[t, i] += force[M, i]
                continue
            start, stop = packed.first[leg], packed.first[leg + 1]
            c0, n = packed.column[leg], packed.column[leg + 1] - packed.column[leg]
            for m in range(start, stop):
                s, sd, sdd = packed.offset[m], 0.0, 0.0
                for k in range(n):
                    s += packed.coupling[m, k] * q[t, c0 + k]
                    sd += packed.coupling[m, k] * qd[t, c0 + k]
                    sdd += packed.coupling[m, k] * qdd[t, c0 + k]
                _step(packed, m, s, sd, sdd, state, axes[m], work)
                for i in range(3):
                    origins[m, i] = state[3, i]
                _weigh(packed.mass[m], packed.com[m], packed.inertia[m], state, force[m],
                       gathered[t])  # fmt: skip
            _apply(state[:3], packed.foot[leg], r)
            for i in range(3):
                feet[t, leg, i] = state[3, i] + r[i]
            load[:] = 0.0
            for m in range(stop - 1, start - 1, -1):
                a, p = axes[m], origins[m]
                for i in range(6):
                    load[i] += force[m, i]
                own = 0.0
                for i in range(3):
                    j, k = (i + 1) % 3, (i + 2) % 3
                    if packed.slides[m]:
                        own += a[i] * load[i]
                        r[i] = a[i]
                    else:
                        own += a[i] * (load[3 + i] - p[j] * load[k] + p[k] * load[j])
                        r[i] = a[j] * (feet[t, leg, k] - p[k]) - a[k] * (feet[t, leg, j] - p[j])
                for k in range(n):
                    torque[t, c0 + k] += packed.coupling[m, k] * own
                    for i in range(3):
                        jacobian[t, i, c0 + k] += packed.coupling[m, k] * r[i]
            for i in range(6):
                wrench[t, i] += load[i]
    return torque, wrench, feet, jacobian, gathered
