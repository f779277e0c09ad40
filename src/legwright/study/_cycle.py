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

from legwright.kernel import kernel
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
    """Largest distance to a target [m]; of a cycle that is not weighed on, some distance."""
    missing: int
    """The leg that misses."""
    stretch: float
    """From its hip to its foot at the first sample [m]."""
    gap: float
    """Least distance of a joint from its limits [rad]; inf where a foot is out of reach and that
    is enough to know."""
    tight: int
    """Its column."""
    margin: float
    """Least stability margin [m]; inf, like all that follows idle, where it was not weighed."""
    feasible: bool
    headroom: Floats
    """(J,): least headroom of each drive; inf where it asks nothing, nan where not known."""
    weakest: int
    """The drive with the least headroom."""
    steady: Floats
    """(J,): where its winding settles [K]."""
    hottest: int
    """The drive whose winding comes nearest to its limit; -1 where none is known."""
    heated: float
    """How near, as a share of the way from the ambient to the limit."""


def used(
    limbs: Limbs, body: Packed, drives: Drives, course: Course, terms: Terms,
    least: tuple[float, float], *, missed: bool = True,
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
        missed: Whether to tell how far a cycle out of reach misses its path.

    Returns:
        Used.
    """
    T, L = course.local.shape
    paths = tuple(np.empty((T, L, 3)) for _ in range(3))
    cycle_path(
        course.middle, course.twist, course.local, course.timing, course.R, course.at, *paths
    )
    q3, error = np.empty((T, L, 3)), np.zeros((T, L))
    enough = math.inf if missed else terms.tolerance
    short = _knee.follow(limbs.packs, paths[0], course.start, q3, error, enough)
    idle, unknown = np.full(3 * L, math.inf), np.full(3 * L, math.nan)
    if short >= 0:
        return Used(
            True, False, False, terms.tolerance, short, 1.0, math.inf, 0, math.inf, True,
            idle, 0, unknown, -1, math.nan,
        )  # fmt: skip
    q, off = q3.reshape(T, 3 * L), np.empty(L, dtype=np.bool_)
    plain, missing, miss, tight, gap = taken(
        q, error, limbs.lower, limbs.upper, terms.tolerance, terms.jump, off
    )
    reached = not miss > 0.0
    found = Used(
        plain=plain,
        whole=False,
        reached=reached,
        miss=miss,
        missing=missing,
        stretch=1.0 if reached else _stretch(limbs, missing, q),
        gap=gap,
        tight=tight,
        margin=math.inf,
        feasible=True,
        headroom=idle,
        weakest=0,
        steady=unknown,
        hottest=-1,
        heated=math.nan,
    )
    if not plain or gap < least[0] or not (reached or least[0] == -math.inf):
        return found
    motion = _moved(limbs, course, terms, (q, *paths[1:]), off)
    return _weighed(found, body, drives, course, terms, motion, least[1])


@kernel
def taken(q, error, lower, upper, tolerance, jump, off):  # type: ignore[no-untyped-def]
    """How the joints take a path.

    Args:
        q: (T, J), three drives a leg [rad].
        error: (T, L) distances to the targets [m].
        lower: (J,) [rad]
        upper: (J,) [rad]
        tolerance: A target counts as reached within this distance [m].
        jump: A joint that moves more between samples has changed branch [rad].
        off: Out, (L,): legs with a target out of reach.

    Returns:
        False where a leg that reaches all changes branch; the leg that misses most, and by how
        much [m]; the column of the joint nearest to its limits, and its distance [rad].
    """
    T, J = q.shape
    plain, missing, miss, tight, gap = True, 0, 0.0, 0, math.inf
    for leg in range(error.shape[1]):
        worst = 0.0
        off[leg] = False
        for t in range(T):
            if error[t, leg] > tolerance:
                off[leg] = True
                worst = max(worst, error[t, leg])
        if worst > miss:
            missing, miss = leg, worst
    for j in range(J):
        own, step, before = math.inf, 0.0, q[T - 1, j]
        for t in range(T):
            here = q[t, j]
            own = min(own, here - lower[j], upper[j] - here)
            step = max(step, abs(here - before))
            before = here
        if own < gap:
            tight, gap = j, own
        if step > jump and not off[j // 3]:
            plain = False
    return plain, missing, miss, tight, gap


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
    gravity, twist, felt = np.empty((T, 3)), np.empty((T, 6)), np.empty((T, 6))
    normals = np.empty((T, L, 3))
    carried(
        course.R, course.at, course.twist, course.timing[1], course.gravity,
        gravity, twist, felt, normals,
    )  # fmt: skip
    torque, wrench, feet, jacobian, gathered = recursion(body, q, qd, qdd, twist, felt)
    contact = course.local < course.timing[0]
    margin = float(stance_margins(feet, gathered[:, 1:4].copy(), gravity, contact).min())
    if margin < least:
        return found._replace(margin=margin)
    force, residual = distribution(feet, normals, wrench, terms.friction, contact)
    weakest, hottest, heated = servo_use(
        drives, terms.volts, terms.ambient, body.rotor, torque, qd, qdd, jacobian, force,
        found.headroom, found.steady,
    )  # fmt: skip
    return found._replace(
        whole=True,
        margin=margin,
        feasible=bool((residual <= terms.balanced).all()),
        weakest=weakest,
        hottest=hottest,
        heated=heated,
    )


@kernel
def carried(R, at, twist, cycle, gravity, down, moving, felt, normals):  # type: ignore[no-untyped-def]
    """What the body feels of its course, in its own axes.

    Args:
        R: (3, 3) body axes to heading axes.
        at: (3,) body origin in the heading frame [m].
        twist: Forward, to the left, turning.
        cycle: [s]
        gravity: In the ground frame [m/s²].
        down: Out, (T, 3) gravity.
        moving: Out, (T, 6) velocity of the body origin, and angular velocity.
        felt: Out, (T, 6) acceleration of the body origin less gravity, and angular one.
        normals: Out, (T, L, 3) of the ground.
    """
    T, L = normals.shape[0], normals.shape[1]
    vx, vy, w = twist
    gx, gy, gz = gravity
    along, across = vx - w * at[1], vy + w * at[0]
    for t in range(T):
        angle = w * cycle / T * t
        c, s = math.cos(angle), math.sin(angle)
        x, y = c * gx + s * gy, c * gy - s * gx
        for k in range(3):
            down[t, k] = x * R[0, k] + y * R[1, k] + gz * R[2, k]
            moving[t, k] = along * R[0, k] + across * R[1, k]
            moving[t, 3 + k] = w * R[2, k]
            felt[t, k] = w * (along * R[1, k] - across * R[0, k]) - down[t, k]
            felt[t, 3 + k] = 0.0
            for leg in range(L):
                normals[t, leg, k] = R[2, k]
