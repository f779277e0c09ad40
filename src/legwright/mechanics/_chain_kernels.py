"""Kernels: foot point, Jacobian and second derivatives of one serial chain, body axes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from legwright.robot.chain import Chain
from legwright.robot.tree import Floats


class Links(NamedTuple):
    """A chain as flat arrays; m moving joints, n drives."""

    turn: Floats
    """(m, 3, 3): orientation of each joint frame in the frame before it, joint at zero."""
    shift: Floats
    """(m, 3): its origin there [m]."""
    axis: Floats
    """(m, 3): joint axis in its own frame."""
    slides: NDArray[np.bool_]
    """(m,): True where the joint is prismatic."""
    coupling: Floats
    """(m, n)"""
    offset: Floats
    """(m,) [rad or m]"""
    foot: Floats
    """(3,): foot point in the last joint's frame [m]."""


def links_of(chain: Chain) -> Links:
    """The arrays of a chain."""
    return Links(
        turn=np.ascontiguousarray(chain.placements[:, :3, :3]),
        shift=np.ascontiguousarray(chain.placements[:, :3, 3]),
        axis=np.array(chain.axes),
        slides=np.array(chain.prismatic, dtype=np.bool_),
        coupling=np.array(chain.coupling),
        offset=np.array(chain.offset),
        foot=np.array(chain.foot),
    )


@njit(cache=True)
def pose(links, q, R, p, axes, origins):  # type: ignore[no-untyped-def]
    """Walk along the chain; fill axis and origin of each moving joint; return the foot point.

    R (3, 3) and p (3,) are scratch space and end as the last joint's frame.
    """
    m = links.shift.shape[0]
    R[:, :] = 0.0
    R[0, 0] = R[1, 1] = R[2, 2] = 1.0
    p[:] = 0.0
    for j in range(m):
        angle = links.offset[j]
        for k in range(q.shape[0]):
            angle += links.coupling[j, k] * q[k]
        s, t = links.shift[j], links.turn[j]
        for i in range(3):
            p[i] += R[i, 0] * s[0] + R[i, 1] * s[1] + R[i, 2] * s[2]
        for i in range(3):
            a, b, c = R[i, 0], R[i, 1], R[i, 2]
            for k in range(3):
                R[i, k] = a * t[0, k] + b * t[1, k] + c * t[2, k]
        x, y, z = links.axis[j, 0], links.axis[j, 1], links.axis[j, 2]
        for i in range(3):
            axes[j, i] = R[i, 0] * x + R[i, 1] * y + R[i, 2] * z
        if links.slides[j]:
            for i in range(3):
                p[i] += angle * axes[j, i]
                origins[j, i] = p[i]
            continue
        for i in range(3):
            origins[j, i] = p[i]
        # Rotation matrix of a turn about a unit axis (Rodrigues' formula).
        sine, cosine = np.sin(angle), np.cos(angle)
        d = 1.0 - cosine
        r00, r01, r02 = cosine + d * x * x, d * x * y - sine * z, d * x * z + sine * y
        r10, r11, r12 = d * x * y + sine * z, cosine + d * y * y, d * y * z - sine * x
        r20, r21, r22 = d * x * z - sine * y, d * y * z + sine * x, cosine + d * z * z
        for i in range(3):
            a, b, c = R[i, 0], R[i, 1], R[i, 2]
            R[i, 0] = a * r00 + b * r10 + c * r20
            R[i, 1] = a * r01 + b * r11 + c * r21
            R[i, 2] = a * r02 + b * r12 + c * r22
    f = links.foot
    fx = p[0] + R[0, 0] * f[0] + R[0, 1] * f[1] + R[0, 2] * f[2]
    fy = p[1] + R[1, 0] * f[0] + R[1, 1] * f[1] + R[1, 2] * f[2]
    fz = p[2] + R[2, 0] * f[0] + R[2, 1] * f[1] + R[2, 2] * f[2]
    return fx, fy, fz


@njit(cache=True)
def columns(links, axes, origins, fx, fy, fz, moving):  # type: ignore[no-untyped-def]
    """Fill ``moving`` (m, 3): derivative of the foot point by each moving joint."""
    for j in range(moving.shape[0]):
        if links.slides[j]:
            moving[j, :] = axes[j, :]
            continue
        x, y, z = fx - origins[j, 0], fy - origins[j, 1], fz - origins[j, 2]
        moving[j, 0] = axes[j, 1] * z - axes[j, 2] * y
        moving[j, 1] = axes[j, 2] * x - axes[j, 0] * z
        moving[j, 2] = axes[j, 0] * y - axes[j, 1] * x


@njit(cache=True)
def feet(links, q, out):  # type: ignore[no-untyped-def]
    """Foot points: q (N, n) -> out (N, 3)."""
    m = links.shift.shape[0]
    R, p = np.empty((3, 3)), np.empty(3)
    axes, origins = np.empty((m, 3)), np.empty((m, 3))
    for i in range(q.shape[0]):
        out[i, 0], out[i, 1], out[i, 2] = pose(links, q[i], R, p, axes, origins)


@njit(cache=True)
def jacobians(links, q, out):  # type: ignore[no-untyped-def]
    """Jacobians: q (N, n) -> out (N, 3, n)."""
    m, n = links.coupling.shape
    R, p = np.empty((3, 3)), np.empty(3)
    axes, origins, moving = np.empty((m, 3)), np.empty((m, 3)), np.empty((m, 3))
    for i in range(q.shape[0]):
        fx, fy, fz = pose(links, q[i], R, p, axes, origins)
        columns(links, axes, origins, fx, fy, fz, moving)
        for row in range(3):
            for k in range(n):
                total = 0.0
                for j in range(m):
                    total += moving[j, row] * links.coupling[j, k]
                out[i, row, k] = total
