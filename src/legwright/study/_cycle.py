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

from legwright.kernel import kernel, within
from legwright.locomotion._feet import cycle_path
from legwright.mechanics import _knee
from legwright.mechanics._cones import distribution
from legwright.mechanics._lanes import lanes, outputs
from legwright.mechanics._polygon import stance_margins
from legwright.mechanics._recursion import Packed, about_z, matrix, out_of, product
from legwright.mechanics._servo import Drives
from legwright.mechanics._vectors import plus, row
from legwright.robot.tree import Floats
from legwright.study._servo_use import servo_use

FEW = 4
"""Every so many samples are looked at first, where little headroom is enough to know."""


class Limbs(NamedTuple):
    """L closed-form legs with J = 3 L drives."""

    packs: Floats
    """(L, 32): closed-form measures, see `mechanics.knee`."""
    hips: Floats
    """(L, 3): first joint origins [m]."""
    lower: Floats
    """(J,) [rad]"""
    upper: Floats


class Samples(NamedTuple):
    """The instants of a cycle at which it is looked at."""

    share: Floats
    """(T,): of the cycle that is over."""
    local: Floats
    """(T, L): share of the cycle since each foot's touch-down."""
    contact: NDArray[np.bool_]
    """(T, L): feet that stand."""


class Least(NamedTuple):
    """What a cycle must have to be weighed on; -inf: it is weighed on whatever it has."""

    gap: float = -math.inf
    """Distance of its joints from their limits [rad]; where stated, it must also be in reach."""
    margin: float = -math.inf
    """Stability margin [m]."""
    headroom: float = -math.inf
    """Headroom of its drives; where stated, forces on its feet must also be found."""


class Course(NamedTuple):
    """What is walked."""

    samples: Samples
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
    limbs: Limbs, body: Packed, drives: Floats, course: Course, terms: Terms,
    least: Least, *, missed: bool = True,
) -> Used:  # fmt: skip
    """How hard one cycle uses each limit.

    Args:
        limbs: Of the robot.
        body: The robot, payload aboard.
        drives: Of the robot, (14, J): the constants of `Drives` as rows, since arrays that are
            handed over one by one cost as much as a tenth of the cycle.
        course: What is walked.
        terms: What it is weighed at.
        least: A cycle that has less is not weighed on.
        missed: Whether to tell how far a cycle out of reach misses its path.

    Returns:
        Used.
    """
    headroom, steady = np.empty(len(limbs.lower)), np.empty(len(limbs.lower))
    bounds = (*least, math.inf if missed else terms.tolerance)
    told, taken, weighed, foot = weigh(limbs, body, drives, course, terms, bounds, headroom, steady)
    plain, whole, reached, feasible = told
    miss, missing, gap, tight = taken
    stretch = 1.0
    if not reached and missed:
        stretch = math.dist(foot, limbs.hips[missing])
    return Used(
        plain, whole, reached, miss, missing, stretch, gap, tight, weighed[0], feasible,
        headroom, weighed[1], steady, *weighed[2:],
    )  # fmt: skip


@kernel
def weigh(limbs, body, drives, course, terms, least, headroom, steady):  # type: ignore[no-untyped-def]
    """`used`, as numbers.

    Args:
        limbs: `Limbs`.
        body: `Packed`.
        drives: As rows.
        course: `Course`.
        terms: `Terms`.
        least: `Least`, and the miss that is enough to know [m].
        headroom: Out, (J,).
        steady: Out, (J,).

    Returns:
        Whether it is plain, whole, in reach, feasible; what it misses by, which leg, its gap,
        which column; its margin, weakest drive, hottest drive, how hot; the missing leg's foot.
    """
    T, L = course.samples.local.shape
    headroom.fill(math.inf)
    steady.fill(math.nan)
    unweighed, foot = (math.inf, 0, -1, math.nan), (0.0, 0.0, 0.0)
    path, velocity, push = np.empty((T, L, 3)), np.empty((T, L, 3)), np.empty((T, L, 3))
    cycle_path(
        course.middle, course.twist, course.samples.local, course.timing, course.R, course.at,
        path, velocity, push,
    )  # fmt: skip
    q3, error = np.empty((T, L, 3)), np.zeros((T, L))
    short = _knee.reach(limbs.packs, path, course.start, q3, error, least[3])
    if short >= 0:
        missed = (terms.tolerance, short, math.inf, 0)
        return (True, False, False, True), missed, unweighed, foot
    q, off = q3.reshape(T, 3 * L), np.empty(L, dtype=np.bool_)
    plain, missing, miss, tight, gap = _taken(
        q, error, limbs.lower, limbs.upper, terms.tolerance, terms.jump, off
    )
    reached, taken = not miss > 0.0, (miss, missing, gap, tight)
    if not reached:
        foot = _foot(body, missing, q[0])
    if not plain or gap < least[0] or not (reached or least[0] == -math.inf):
        return (plain, False, reached, True), taken, unweighed, foot
    some_are_enough = reached and least[2] > -math.inf and T % FEW == 0
    for step in (FEW, 1):
        if step > 1 and not some_are_enough:
            continue
        share, contact = course.samples.share[::step], _every(course.samples.contact, step)
        here, going, pushed = _every(q, step), _every(velocity, step), _every(push, step)
        rates = np.empty((3 * L, len(here))), np.empty((3 * L, len(here)))
        down, twist, felt, normals = _carried(
            course.R, course.at, course.twist, course.timing[1], share, course.gravity, L
        )
        moves = going, pushed, off, course.timing[1], terms.singular
        torque, wrench, feet, jacobian, gathered = out = outputs(len(here), 3 * L, L)
        lanes(body, here, moves, twist, felt, rates, out)
        margin = stance_margins(feet, gathered[:, 1:4].copy(), down, contact).min()
        if margin < least[1]:
            headroom.fill(math.inf)
            known = (margin, 0, -1, math.nan)
            return (plain, False, reached, True), taken, known, foot
        force, residual = distribution(feet, normals, wrench, terms.friction, contact)
        feasible = True
        for left in residual:
            feasible = feasible and left <= terms.balanced
        weakest, hottest, heated = servo_use(
            _drives(drives), terms.volts, terms.ambient, body.rotor, torque, *rates, jacobian,
            force, 1.0 / step, headroom, steady,
        )  # fmt: skip
        if step > 1 and (headroom[weakest] < least[2] or not feasible):
            steady.fill(math.nan)
            known = (math.inf, weakest, -1, math.nan)
            return (plain, False, reached, feasible), taken, known, foot
    known = (margin, weakest, hottest, heated)
    return (plain, True, reached, feasible), taken, known, foot


@within
def _every(a, step):  # type: ignore[no-untyped-def]
    """Every so many rows of an array."""
    return a[::step].copy()


@within
def _foot(body, leg, q):  # type: ignore[no-untyped-def]
    """Where a leg of joints that turn has its foot, in the body frame [m]."""
    F, p = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0), (0.0, 0.0, 0.0)
    for m in range(body.first[leg], body.first[leg + 1]):
        angle = body.offset[m]
        for k in range(3):
            angle += body.coupling[m, k] * q[3 * leg + k]
        p = plus(p, out_of(F, row(body.shift, m)))
        F = about_z(product(F, matrix(body.turn, m)), angle)
    return plus(p, out_of(F, row(body.foot, leg)))


@within
def _drives(rows):  # type: ignore[no-untyped-def]
    """`Drives` of its rows."""
    return Drives(
        rows[0], rows[1], rows[2], rows[3] != 0.0, rows[4], rows[5], rows[6], rows[7], rows[8],
        rows[9], rows[10], rows[11], rows[12], rows[13],
    )  # fmt: skip


@within
def _taken(q, error, lower, upper, tolerance, jump, off):  # type: ignore[no-untyped-def]
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


@within
def _carried(R, at, twist, cycle, share, gravity, L):  # type: ignore[no-untyped-def]
    """What the body feels of its course, in its own axes.

    Args:
        R: (3, 3) body axes to heading axes.
        at: (3,) body origin in the heading frame [m].
        twist: Forward, to the left, turning.
        cycle: [s]
        share: (T,) of the cycle that is over.
        gravity: In the ground frame [m/s²].
        L: Number of legs.

    Returns:
        (T, 3) gravity; (T, 6) velocity of the body origin, and angular velocity; (T, 6)
        acceleration of the body origin less gravity, and angular one; (T, L, 3) normals of the
        ground.
    """
    T = share.shape[0]
    down, moving, felt = np.empty((T, 3)), np.empty((T, 6)), np.empty((T, 6))
    normals = np.empty((T, L, 3))
    vx, vy, w = twist
    gx, gy, gz = gravity
    along, across = vx - w * at[1], vy + w * at[0]
    for t in range(T):
        angle = w * cycle * share[t]
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
    return down, moving, felt, normals
