"""One coarse cycle planned and weighed, and how hard it uses each limit.

The same steps as `locomotion.plan`, `mechanics.loads` and `mechanics.draw`, through the same
kernels, for robots whose legs all have the closed form. Nothing is kept but the numbers that
strains are made of; searches ask for hundreds of cycles. The referee is the long way.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion._feet import cycle_path
from legwright.locomotion._rates import rates
from legwright.mechanics import _knee, _serial
from legwright.mechanics._cones import distribution
from legwright.mechanics._polygon import stance_margins
from legwright.mechanics._recursion import Packed, recursion
from legwright.mechanics.screws import Screws
from legwright.robot.tree import Floats
from legwright.study._servo_use import Drives, servo_use


class Limbs(NamedTuple):
    """L closed-form legs with J = 3 L drives."""

    packs: Floats
    """(L, 32): closed-form measures, see `mechanics.knee`."""
    screws: tuple[Screws, ...]
    hips: Floats
    """(L, 3): first joint origins [m]."""
    lower: Floats
    """(J,) [rad]"""
    upper: Floats


class Course(NamedTuple):
    """What is walked."""

    local: Floats
    """(T, L): share of the cycle since each foot's touch-down."""
    timing: tuple[float, float, float]
    """Duty factor, cycle time [s], lift [m]."""
    twist: tuple[float, float, float]
    middle: Floats
    """(L, 3): feet at mid-stance, heading frame [m]."""
    R: Floats
    """(3, 3): body axes to heading axes."""
    at: Floats
    """(3,): body origin in the heading frame [m]."""
    start: Floats
    """(1, L, 3): joint positions to stay near [rad]."""
    gravity: tuple[float, float, float]
    """In the ground frame [m/s²]."""


class Terms(NamedTuple):
    """What it is weighed at."""

    friction: Floats
    """(L,)"""
    volts: Floats
    """(J,): at the servos [V]."""
    ambient: float
    """[K]"""
    tolerance: float
    """A target counts as reached within this distance [m]."""
    jump: float
    """A joint that moves more between samples has changed branch [rad]."""
    singular: float
    balanced: float


class Used(NamedTuple):
    """How hard a cycle uses each limit."""

    plain: bool
    """False: a leg changes branch, nothing else here holds."""
    whole: bool
    """Whether the cycle was weighed to the end."""
    reached: bool
    miss: float
    """Largest distance to a target [m]."""
    missing: int
    """The leg that misses."""
    stretch: float
    """From its hip to its foot at the first sample [m]."""
    gap: float
    """Least distance of a joint from its limits [rad]."""
    tight: int
    """Its column."""
    margin: float
    """Least stability margin [m]; this and all that follows where the cycle was weighed."""
    feasible: bool
    headroom: Floats
    """(J,): least headroom of each drive; inf where it asks nothing, nan where not known."""
    steady: Floats
    """(J,): where its winding settles [K]."""


def used(
    limbs: Limbs, body: Packed, drives: Drives, course: Course, terms: Terms,
    least: tuple[float, float],
) -> Used:  # fmt: skip
    """How hard one cycle uses each limit.

    Args:
        limbs: Of the robot.
        body: The robot, payload aboard.
        drives: Of the robot.
        course: What is walked.
        terms: What it is weighed at.
        least: A cycle whose joints come nearer to their limits, or whose stability margin is
            less, is not weighed on; nor is one out of reach, but where the first is -inf.

    Returns:
        Used.
    """
    T, L = course.local.shape
    paths = tuple(np.empty((T, L, 3)) for _ in range(3))
    cycle_path(
        course.middle, course.twist, course.local, course.timing, course.R, course.at, *paths
    )
    q3, error = np.empty((T, L, 3)), np.empty((T, L))
    _knee.reach(limbs.packs, paths[0], course.start, q3, error)
    q = q3.reshape(T, 3 * L)
    off = error > terms.tolerance
    worst = np.where(off, error, 0.0).max(axis=0)
    missing = int(worst.argmax())
    gaps = np.minimum(q - limbs.lower, limbs.upper - q).min(axis=0)
    tight = int(gaps.argmin())
    reached, gap = not worst[missing] > 0.0, float(gaps[tight])
    found = Used(
        plain=not ((_steps(q) > terms.jump).reshape(L, 3).any(axis=1) & (worst == 0.0)).any(),
        whole=False,
        reached=reached,
        miss=float(worst[missing]),
        missing=missing,
        stretch=1.0 if reached else _stretch(limbs, missing, q),
        gap=gap,
        tight=tight,
        margin=0.0,
        feasible=True,
        headroom=np.full(3 * L, math.inf),
        steady=np.full(3 * L, math.nan),
    )
    if not found.plain or gap < least[0] or not (reached or least[0] == -math.inf):
        return found
    motion = _moved(limbs, course, terms, (q, *paths[1:]), np.asarray(off.any(axis=0)))
    return _weighed(found, body, drives, course, terms, motion, least[1])


def _steps(q: Floats) -> Floats:
    """Largest step of each joint between samples, round the cycle, (J,) [rad]."""
    last = np.abs(q[0] - q[-1])
    return np.asarray(np.maximum(np.abs(q[1:] - q[:-1]).max(axis=0), last))


def _stretch(limbs: Limbs, leg: int, q: Floats) -> float:
    """From a leg's hip to its foot at the first sample [m]."""
    foot = np.empty((1, 3))
    _serial.feet(limbs.screws[leg], q[:1, 3 * leg : 3 * leg + 3].copy(), foot)
    return float(np.linalg.norm(foot[0] - limbs.hips[leg]))


def _moved(
    limbs: Limbs, course: Course, terms: Terms, moved: tuple[Floats, ...], off: NDArray[np.bool_]
) -> tuple[Floats, Floats, Floats]:
    """Joint positions, velocities, accelerations, (T, J) each; see `plan`."""
    q, velocity, acceleration = moved
    qd, qdd = np.empty_like(q), np.empty_like(q)
    for leg, screws in enumerate(limbs.screws):
        if not off[leg]:
            ruled = rates(screws, 3 * leg, leg, q, velocity, acceleration, qd, qdd)
            if ruled > terms.singular:
                continue
        span, step = slice(3 * leg, 3 * leg + 3), course.timing[1] / len(q)
        ahead, behind = np.roll(q[:, span], -1, axis=0), np.roll(q[:, span], 1, axis=0)
        qd[:, span] = (ahead - behind) / (2.0 * step)
        qdd[:, span] = (ahead - 2.0 * q[:, span] + behind) / (step * step)
    return q, qd, qdd


def _weighed(
    found: Used, body: Packed, drives: Drives, course: Course, terms: Terms,
    motion: tuple[Floats, Floats, Floats], least: float,
) -> Used:  # fmt: skip
    """The same with the loads and the servo use of a motion."""
    q, qd, qdd = motion
    T, L = course.local.shape
    vx, vy, w = course.twist
    R, at, (gx, gy, gz) = course.R, course.at, course.gravity
    angle = (w * course.timing[1] / T) * np.arange(T)
    c, s = np.cos(angle), np.sin(angle)
    down = np.empty((T, 3))  # in the heading frame
    down[:, 0], down[:, 1], down[:, 2] = c * gx + s * gy, c * gy - s * gx, gz
    gravity = down @ R
    linear = (vx - w * at[1], vy + w * at[0])
    twist, felt = np.empty((T, 6)), np.zeros((T, 6))
    twist[:, :3] = linear[0] * R[0] + linear[1] * R[1]
    twist[:, 3:] = w * R[2]
    felt[:, :3] = w * (linear[0] * R[1] - linear[1] * R[0]) - gravity
    torque, wrench, feet, jacobian, gathered = recursion(body, q, qd, qdd, twist, felt)
    contact = course.local < course.timing[0]
    margin = float(stance_margins(feet, gathered[:, 1:4].copy(), gravity, contact).min())
    if margin < least:
        return found._replace(margin=margin)
    normals = np.empty((T, L, 3))
    normals[...] = R[2]
    force, residual = distribution(feet, normals, wrench, terms.friction, contact)
    servo_use(
        drives, terms.volts, terms.ambient, body.rotor, torque, qd, qdd, jacobian, force,
        found.headroom, found.steady,
    )  # fmt: skip
    feasible = bool((residual <= terms.balanced).all())
    return found._replace(whole=True, margin=margin, feasible=feasible)
