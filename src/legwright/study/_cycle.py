"""Kernel: one coarse cycle planned and weighed, and how hard it uses each limit.

The same steps as `locomotion.plan`, `mechanics.loads` and `mechanics.draw`, through the same
kernels, for robots whose legs all have the closed form. Nothing is kept but the numbers that
strains are made of; searches ask for thousands of cycles. The referee is the long way.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from legwright.locomotion._feet import cycle_path, shares
from legwright.locomotion._rates import rates
from legwright.mechanics import _knee
from legwright.mechanics._cones import distribution
from legwright.mechanics._polygon import stance_margins
from legwright.mechanics._recursion import recursion
from legwright.mechanics._serial import foot_at
from legwright.mechanics.screws import Screws
from legwright.robot.tree import Floats

REFERENCE = 293.15
COPPER = 0.00393
AT_REST = 0.001
EXCHANGE = 1e-12


class Limbs(NamedTuple):
    """L closed-form legs with J = 3 L drives."""

    packs: Floats
    """(L, 32): closed-form measures, see `mechanics.knee`."""
    origin: Floats
    """(L, 3, 3), this and the next as in `Screws`."""
    axis: Floats
    foot: Floats
    """(L, 3): foot points, joints at zero [m]."""
    hips: Floats
    """(L, 3): first joint origins [m]."""
    lower: Floats
    """(J,) [rad]"""
    upper: Floats


class Drives(NamedTuple):
    """Constants of the J drives; see `mechanics.drive.Drive`."""

    stall_torque: Floats
    no_load_speed: Floats
    cap: Floats
    flat: NDArray[np.bool_]
    voltage: Floats
    lowest_voltage: Floats
    friction_share: Floats
    friction_current: Floats
    resistance: Floats
    torque_constant: Floats
    emf_constant: Floats
    backdrive: Floats
    thermal_resistance: Floats
    highest_winding: Floats


class Course(NamedTuple):
    """What is walked."""

    phases: Floats
    """(L,)"""
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
    """(J,): joint positions to stay near [rad]."""
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


@njit(cache=True)
def _screws(limbs, leg, slides, coupling, offset):  # type: ignore[no-untyped-def]
    return Screws(limbs.origin[leg], limbs.axis[leg], slides, coupling, offset, limbs.foot[leg])


@njit(cache=True)
def _changes_branch(q, column, jump):  # type: ignore[no-untyped-def]
    """Whether one of a leg's joints moves too far between samples, round the cycle."""
    T = q.shape[0]
    for t in range(T):
        for k in range(column, column + 3):
            if abs(q[(t + 1) % T, k] - q[t, k]) > jump:
                return True
    return False


@njit(cache=True)
def _periodic(q, column, cycle, qd, qdd):  # type: ignore[no-untyped-def]
    """Central differences round the cycle of one leg's joints."""
    T = q.shape[0]
    step = cycle / T
    for t in range(T):
        for k in range(column, column + 3):
            ahead, here, behind = q[(t + 1) % T, k], q[t, k], q[t - 1, k]
            qd[t, k] = (ahead - behind) / (2.0 * step)
            qdd[t, k] = (ahead - 2.0 * here + behind) / (step * step)


@njit(cache=True)
def _copper(temperature):  # type: ignore[no-untyped-def]
    """See `heat.copper_factor`."""
    return max(1.0 + COPPER * (temperature - REFERENCE), 0.0)


@njit(cache=True)
def winding(d, j, torque, speed):  # type: ignore[no-untyped-def]
    """Winding current of drive ``j``; see `servo_current.winding_current`."""
    motion = speed / (AT_REST * d.no_load_speed[j])
    motion = min(max(motion, -1.0), 1.0) if motion == motion else motion
    driving = 1.0 / d.torque_constant[j] if d.torque_constant[j] != 0.0 else math.inf
    gain = driving
    if torque * motion < 0.0:
        relief = (driving - d.backdrive[j] / d.emf_constant[j]) * abs(motion)
        gain = driving - relief if not relief < 0.0 else driving
    return torque * gain + d.friction_current[j] * motion


@njit(cache=True)
def settled(square, resistance, thermal, ambient):  # type: ignore[no-untyped-def]
    """Where a winding settles; see `heat.steady_temperature`."""
    gain = COPPER * (square * resistance) * thermal
    if gain >= 1.0:
        return math.inf
    return ambient + gain / COPPER * _copper(ambient) / (1.0 - gain)


@njit(cache=True)
def _at_work(steady, highest, ambient):  # type: ignore[no-untyped-def]
    """Winding temperature to reckon at; see `draw._operating`."""
    if steady != steady:
        return REFERENCE
    limited = steady if highest != highest else min(steady, highest)
    return limited if math.isfinite(limited) else max(ambient, REFERENCE)


@njit(cache=True)
def available(d, j, speed, volts, driven, warm):  # type: ignore[no-untyped-def]
    """Largest torque of drive ``j``; see `servo_line.available_torque`."""
    pace = abs(speed) / d.no_load_speed[j]
    if pace != pace:
        return math.nan
    ratio = volts / d.voltage[j]
    ratio = ratio if ratio == ratio else 1.0
    if d.flat[j]:
        share = 1.0 if driven or pace <= 1.0 else 0.0
    else:
        iota = d.friction_share[j]
        turning = 0.0 if driven else (1.0 - iota) * pace
        share = ((ratio - turning) / _copper(warm) - iota) / (1.0 - iota)
    share = share if not share < 0.0 else 0.0
    if ratio * d.voltage[j] < d.lowest_voltage[j]:
        return 0.0
    torque = d.stall_torque[j] * share
    return d.cap[j] if torque > d.cap[j] else torque


@njit(cache=True)
def _servo_use(d, terms, torque, speed, headroom, steady):  # type: ignore[no-untyped-def]
    """Least headroom and settled winding of every drive; torque and speed (T, J)."""
    T, J = torque.shape
    for j in range(J):
        square = 0.0
        for t in range(T):
            i = winding(d, j, torque[t, j], speed[t, j])
            square += i * i
        square /= T
        steady[j] = settled(square, d.resistance[j], d.thermal_resistance[j], terms.ambient)
        warm = _at_work(steady[j], d.highest_winding[j], terms.ambient)
        least = math.inf
        for t in range(T):
            need = abs(torque[t, j])
            driven = torque[t, j] * speed[t, j] < 0.0
            most = available(d, j, speed[t, j], terms.volts[j], driven, warm)
            if most != most:
                continue
            if need > 0.0:
                least = min(least, most / need)
            elif most == 0.0:
                least = 0.0
        headroom[j] = least


@njit(cache=True, nogil=True)
def used(limbs, body, drives, course, terms, samples, least):  # type: ignore[no-untyped-def]
    """How hard one cycle uses each limit.

    Args:
        limbs: Of the robot.
        body: The robot as `Packed`, payload aboard.
        drives: Of the robot.
        course: What is walked.
        terms: What it is weighed at.
        samples: Samples of the cycle, T.
        least: A cycle whose joints come nearer to their limits, or whose stability margin is
            less, is not weighed on; nor is one out of reach, but where the first is -inf.

    Returns:
        Used.
    """
    L, T = limbs.packs.shape[0], samples
    J = 3 * L
    duty, cycle, _lift = course.timing
    local, contact = np.empty((T, L)), np.empty((T, L), dtype=np.bool_)
    shares(course.phases, duty, T, EXCHANGE, local)
    for t in range(T):
        for leg in range(L):
            contact[t, leg] = local[t, leg] < duty
    feet, velocity, acceleration = np.empty((T, L, 3)), np.empty((T, L, 3)), np.empty((T, L, 3))
    cycle_path(
        course.middle, course.twist, local, course.timing, course.R, course.at,
        feet, velocity, acceleration,
    )  # fmt: skip
    q3, error = np.empty((T, L, 3)), np.empty((T, L))
    _knee.reach(limbs.packs, feet, course.start.reshape(1, L, 3), q3, error)
    q = q3.reshape(T, J)
    headroom, steady = np.full(J, math.inf), np.full(J, math.nan)
    plain, miss, missing = True, 0.0, 0
    for leg in range(L):
        worst = 0.0
        for t in range(T):
            if error[t, leg] > terms.tolerance:
                worst = max(worst, error[t, leg])
        if worst > miss:
            miss, missing = worst, leg
        if worst == 0.0 and _changes_branch(q, 3 * leg, terms.jump):
            plain = False
    gap, tight = math.inf, 0
    for j in range(J):
        nearest = math.inf
        for t in range(T):
            nearest = min(nearest, q[t, j] - limbs.lower[j], limbs.upper[j] - q[t, j])
        if nearest < gap:
            gap, tight = nearest, j
    slides, coupling, offset = np.zeros(3, dtype=np.bool_), np.eye(3), np.zeros(3)
    p, stretch, reached = np.empty(3), 1.0, miss == 0.0
    if not reached:
        screws = _screws(limbs, missing, slides, coupling, offset)
        foot_at(screws, q[0, 3 * missing : 3 * missing + 3], p)
        stretch = math.sqrt(
            (p[0] - limbs.hips[missing, 0]) ** 2
            + (p[1] - limbs.hips[missing, 1]) ** 2
            + (p[2] - limbs.hips[missing, 2]) ** 2
        )
    given_up = gap < least[0] or not (reached or least[0] == -math.inf)
    if not plain or given_up:
        return Used(
            plain, False, reached, miss, missing, stretch, gap, tight, 0.0, True, headroom, steady
        )
    qd, qdd = np.empty((T, J)), np.empty((T, J))
    for leg in range(L):
        exact = True
        for t in range(T):
            exact = exact and error[t, leg] <= terms.tolerance
        if exact:
            screws = _screws(limbs, leg, slides, coupling, offset)
            ruled = rates(screws, 3 * leg, leg, q, velocity, acceleration, qd, qdd)
            exact = ruled > terms.singular
        if not exact:
            _periodic(q, 3 * leg, cycle, qd, qdd)
    margin, feasible = _weigh(
        body, course, terms, contact, q, qd, qdd, drives, headroom, steady, least[1]
    )
    return Used(
        plain,
        margin >= least[1],
        reached,
        miss,
        missing,
        stretch,
        gap,
        tight,
        margin,
        feasible,
        headroom,
        steady,
    )


@njit(cache=True)
def _weigh(body, course, terms, contact, q, qd, qdd, drives, headroom, steady, least):  # type: ignore[no-untyped-def]
    """Loads and servo use of a motion: least margin, and whether feet can balance it."""
    T, J = q.shape
    L = contact.shape[1]
    vx, vy, w = course.twist
    R, at = course.R, course.at
    cycle = course.timing[1]
    linear = (vx - w * at[1], vy + w * at[0])
    bend = (-w * (vy + w * at[0]), w * (vx - w * at[1]))
    twist, felt, gravity = np.empty((T, 6)), np.zeros((T, 6)), np.empty((T, 3))
    normals = np.empty((T, L, 3))
    gx, gy, gz = course.gravity
    for t in range(T):
        angle = w * (cycle * t / T)
        c, s = math.cos(angle), math.sin(angle)
        hx, hy = c * gx + s * gy, c * gy - s * gx
        for k in range(3):
            gravity[t, k] = hx * R[0, k] + hy * R[1, k] + gz * R[2, k]
            twist[t, k] = linear[0] * R[0, k] + linear[1] * R[1, k]
            twist[t, 3 + k] = w * R[2, k]
            felt[t, k] = bend[0] * R[0, k] + bend[1] * R[1, k] - gravity[t, k]
            for leg in range(L):
                normals[t, leg, k] = R[2, k]
    torque, wrench, feet, jacobian, gathered = recursion(body, q, qd, qdd, twist, felt)
    com = np.empty((T, 3))
    for t in range(T):
        for k in range(3):
            com[t, k] = gathered[t, 1 + k]
    margin = np.min(stance_margins(feet, com, gravity, contact))
    if margin < least:
        return margin, True
    force, residual = distribution(feet, normals, wrench, terms.friction, contact)
    for t in range(T):
        for j in range(J):
            through = 0.0
            for k in range(3):
                through += jacobian[t, k, j] * force[t, j // 3, k]
            torque[t, j] += body.rotor[j] * qdd[t, j] - through
    feasible = True
    for t in range(T):
        feasible = feasible and residual[t] <= terms.balanced
    _servo_use(drives, terms, torque, qd, headroom, steady)
    return margin, feasible
