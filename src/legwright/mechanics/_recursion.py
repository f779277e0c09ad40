"""Kernel: the Newton-Euler recursion of a body with serial legs, all in body axes.

Vectors are tuples of three numbers and matrices tuples of nine, row by row: the compiler keeps
them in registers.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from legwright.kernel import kernel, within
from legwright.mechanics._vectors import cross, dot, plus, row, times
from legwright.robot.tree import Floats


class Packed(NamedTuple):
    """A robot as flat arrays; M moving joints leg by leg, base to foot.

    Every joint frame is turned so that its z axis is the joint's axis.
    """

    first: NDArray[np.int64]
    """(L + 1,): leg l has the moving joints first[l] .. first[l + 1] - 1."""
    column: NDArray[np.int64]
    """(L + 1,): leg l has the columns column[l] .. column[l + 1] - 1 of the J axis."""
    turn: Floats
    """(M, 3, 3): orientation of the joint frame in the frame before it, joint at zero."""
    shift: Floats
    """(M, 3): origin of the joint frame in the frame before it [m]."""
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


@njit(cache=True, inline="always")
def matrix(A, m):  # type: ignore[no-untyped-def]
    return (
        A[m, 0, 0], A[m, 0, 1], A[m, 0, 2],
        A[m, 1, 0], A[m, 1, 1], A[m, 1, 2],
        A[m, 2, 0], A[m, 2, 1], A[m, 2, 2],
    )  # fmt: skip


@within
def out_of(F, v):  # type: ignore[no-untyped-def]
    """F @ v: out of a frame with orientation F."""
    return (
        F[0] * v[0] + F[1] * v[1] + F[2] * v[2],
        F[3] * v[0] + F[4] * v[1] + F[5] * v[2],
        F[6] * v[0] + F[7] * v[1] + F[8] * v[2],
    )


@within
def into(F, v):  # type: ignore[no-untyped-def]
    """F.T @ v: into a frame with orientation F."""
    return (
        F[0] * v[0] + F[3] * v[1] + F[6] * v[2],
        F[1] * v[0] + F[4] * v[1] + F[7] * v[2],
        F[2] * v[0] + F[5] * v[1] + F[8] * v[2],
    )


@within
def product(F, G):  # type: ignore[no-untyped-def]
    x = out_of(F, (G[0], G[3], G[6]))
    y = out_of(F, (G[1], G[4], G[7]))
    z = out_of(F, (G[2], G[5], G[8]))
    return x[0], y[0], z[0], x[1], y[1], z[1], x[2], y[2], z[2]


@within
def about_z(F, angle):  # type: ignore[no-untyped-def]
    """F turned by ``angle`` about its own z axis."""
    s, c = np.sin(angle), np.cos(angle)
    return (
        c * F[0] + s * F[1], c * F[1] - s * F[0], F[2],
        c * F[3] + s * F[4], c * F[4] - s * F[3], F[5],
        c * F[6] + s * F[7], c * F[7] - s * F[6], F[8],
    )  # fmt: skip


@within
def _carried(r, state):  # type: ignore[no-untyped-def]
    """Position, velocity and acceleration at ``r`` from a frame's origin, on the same body."""
    _, p, w, wd, v, a = state
    whirl = cross(w, r)
    return plus(p, r), plus(v, whirl), plus(a, plus(cross(wd, r), cross(w, whirl)))


@within
def _weigh(mass, com, inertia, state, total):  # type: ignore[no-untyped-def]
    """Force and moment about the body origin that one solid's motion needs.

    Adds to ``total``: m, m·c (3), linear (3) and angular (3) momentum about the body origin,
    and kinetic energy.
    """
    F, _, w, wd, _, _ = state
    c, v, a = _carried(out_of(F, com), state)
    own = into(F, w)
    spin = out_of(inertia, own)
    net = plus(out_of(inertia, into(F, wd)), cross(own, spin))
    force, push = times(a, mass), times(v, mass)
    whirl = plus(out_of(F, spin), cross(c, push))
    total[0] += mass
    for i in range(3):
        total[1 + i] += mass * c[i]
        total[4 + i] += push[i]
        total[7 + i] += whirl[i]
    total[10] += 0.5 * (dot(push, v) + dot(own, spin))
    return force, plus(out_of(F, net), cross(c, force))


@within
def _step(turn, shift, slides, rates, state):  # type: ignore[no-untyped-def]
    """The state of a joint's frame from the state of the frame before it."""
    s, sd, sdd = rates
    F, _, w, wd, _, _ = state
    r, F = out_of(F, shift), product(F, turn)
    z = F[2], F[5], F[8]
    if slides:
        p, v, a = _carried(plus(r, times(z, s)), state)
        a = plus(a, plus(times(z, sdd), times(cross(w, z), 2.0 * sd)))
        return F, p, w, wd, plus(v, times(z, sd)), a
    p, v, a = _carried(r, state)
    wd = plus(wd, plus(times(z, sdd), times(cross(w, z), sd)))
    return about_z(F, s), p, plus(w, times(z, sd)), wd, v, a


@within
def _legs(packed, rates, start, out, joints):  # type: ignore[no-untyped-def]
    """One sample of all legs: writes torques, feet, Jacobian; returns their wrench on the body."""
    q, qd, qdd = rates
    torque, feet, jacobian, total = out
    axes, origins, forces, moments = joints
    whole_f, whole_m = (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    for leg in range(packed.foot.shape[0]):
        begin, stop, c0 = packed.first[leg], packed.first[leg + 1], packed.column[leg]
        n = packed.column[leg + 1] - c0
        state = start
        for m in range(begin, stop):
            s, sd, sdd = packed.offset[m], 0.0, 0.0
            for k in range(n):
                s += packed.coupling[m, k] * q[c0 + k]
                sd += packed.coupling[m, k] * qd[c0 + k]
                sdd += packed.coupling[m, k] * qdd[c0 + k]
            state = _step(
                matrix(packed.turn, m), row(packed.shift, m), packed.slides[m],
                (s, sd, sdd), state,
            )  # fmt: skip
            force, moment = _weigh(
                packed.mass[m], row(packed.com, m), matrix(packed.inertia, m), state, total
            )
            F, p = state[0], state[1]
            for i in range(3):
                axes[m, i], origins[m, i] = F[2 + 3 * i], p[i]
                forces[m, i], moments[m, i] = force[i], moment[i]
        foot = plus(state[1], out_of(state[0], row(packed.foot, leg)))
        for i in range(3):
            feet[leg, i] = foot[i]
        f, n_m = (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
        for m in range(stop - 1, begin - 1, -1):
            f, n_m = plus(f, row(forces, m)), plus(n_m, row(moments, m))
            z, p = row(axes, m), row(origins, m)
            if packed.slides[m]:
                own, arm = dot(z, f), z
            else:
                own = dot(z, plus(n_m, cross(f, p)))
                arm = cross(z, plus(foot, times(p, -1.0)))
            for k in range(n):
                rate = packed.coupling[m, k]
                torque[c0 + k] += rate * own
                for i in range(3):
                    jacobian[i, c0 + k] += rate * arm[i]
        whole_f, whole_m = plus(whole_f, f), plus(whole_m, n_m)
    return whole_f, whole_m


@within
def recurse(packed, q, qd, qdd, twist, acceleration):  # type: ignore[no-untyped-def]
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
        (T, 3, J), column j for the foot of drive j's leg; gathered (T, 11): mass, centre
        of mass (3), linear momentum (3), angular momentum about the centre of mass (3), kinetic
        energy.
    """
    T, J = q.shape
    L, M = packed.foot.shape[0], packed.slides.shape[0]
    torque, wrench = np.zeros((T, J)), np.empty((T, 6))
    feet, jacobian, gathered = np.empty((T, L, 3)), np.zeros((T, 3, J)), np.zeros((T, 11))
    joints = (np.empty((M, 3)), np.empty((M, 3)), np.empty((M, 3)), np.empty((M, 3)))
    level, none = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0), (0.0, 0.0, 0.0)
    for t in range(T):
        w, wd = (twist[t, 3], twist[t, 4], twist[t, 5]), row(acceleration[:, 3:], t)
        start = (level, none, w, wd, row(twist, t), row(acceleration, t))
        total = gathered[t]
        force, moment = _weigh(
            packed.mass[M], row(packed.com, M), matrix(packed.inertia, M), start, total
        )
        f, n = _legs(
            packed, (q[t], qd[t], qdd[t]), start, (torque[t], feet[t], jacobian[t], total), joints
        )
        for i in range(3):
            wrench[t, i], wrench[t, 3 + i] = force[i] + f[i], moment[i] + n[i]
        if total[0] > 0.0:
            for i in range(3):
                total[1 + i] /= total[0]
            about = cross((total[1], total[2], total[3]), (total[4], total[5], total[6]))
            for i in range(3):
                total[7 + i] -= about[i]
    return torque, wrench, feet, jacobian, gathered


@kernel
def recursion(packed, q, qd, qdd, twist, acceleration):  # type: ignore[no-untyped-def]
    """`recurse`, for Python.

    Kernels call that one: the files of this one would name the types of their boxes, and reading
    them would bring in all that these come from.
    """
    return recurse(packed, q, qd, qdd, twist, acceleration)
