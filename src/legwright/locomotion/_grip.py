"""Kernels: which standing foot slides, from measured joints; and where the body got to.

Feet that hold are a rigid body seen from the trunk. So heading and place of the trunk are
fitted to the measured feet, each drawn to where it touched, and a foot that leaves the others
behind slides. A foot that is a ball also rolls while its link turns; that way is no slide.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from legwright.kernel import copy, fill, kernel, within
from legwright.locomotion import _state as at
from legwright.locomotion._body import body_pose, turning
from legwright.locomotion._limb import chain, room_of
from legwright.robot.tree import Floats

SLIDES = 5e-3
"""A loaded foot that leaves the others by more than this slides [m]; measured joints place a
foot within 1 mm, and load that goes from foot to foot moves it by 1 to 2 mm."""
FOR = 0.02
"""For so long [s]."""
CERTAIN = 1.5e-3
"""Scatter of a foot that holds [m]; one that is farther off counts for less and less (Geman &
McClure 1987, redescending weights; from memory)."""
LOADED, LIGHT = 0.05, 0.02
"""Shares of body weight that must be felt on a foot before it is said to slide; and below which
it just follows."""
FULL, LITTLE = 0.15, 0.02
"""Share of body weight from which a foot counts fully in the fit; and the least that it counts."""
FOLLOWS = 0.1
"""Time in which a light foot's place follows it [s]."""
HOLDING = 2
"""So many loaded feet must hold (half of `SLIDES`), or nobody knows which of them slides."""
HEADING_TIME = 0.5
"""Time in which the feet correct the measured turn rate's heading [s]."""
SPAN = 0.12
"""Sum of squared distances of standing feet that `HEADING_TIME` holds for [m²]."""
ROUNDS = 2
"""Steps of the fit; from one control step to the next it hardly moves."""


class Grip(NamedTuple):
    """The observer's memory; its own level frame, which begins as the body's."""

    radius: Floats
    """(L,): of the feet's balls [m]."""
    pose: Floats
    """(3,): x, y [m], yaw [rad] of the body frame."""
    anchor: Floats
    """(L, 2): where each standing foot should be [m]."""
    known: Floats
    """(L,): 1 for feet with an anchor."""
    slid: Floats
    """(L,): how far each foot had slid since it stands when its anchor went along [m]."""
    off: Floats
    """(L,): how far each foot is from its anchor now [m]."""
    over: Floats
    """(L,): for how long it has been farther off than `SLIDES` [s]."""
    told: Floats
    """(L,): 1 once it was said in this stance."""
    news: Floats
    """(L,): 1 where it is to be said now."""
    q: Floats
    """(J,): measured joint positions of the step before [rad]."""
    tilt: Floats
    """(3,): roll, pitch of the step before [rad]; 1 once these two are known."""
    believed: Floats
    """(3,): x, y of the body in the controller's ground frame in the step before [m]; 1 once
    these two are known."""


def grip(radius: Floats, joints: int) -> Grip:
    """A memory that knows nothing.

    Args:
        radius: Of the feet's balls, (L,) [m].
        joints: J.
    """
    legs = len(radius)
    known, slid, off, over, told, news = np.zeros((6, legs))
    return Grip(
        radius=radius, pose=np.zeros(3), anchor=np.zeros((legs, 2)), known=known, slid=slid,
        off=off, over=over, told=told, news=news, q=np.zeros(joints), tilt=np.zeros(3),
        believed=np.zeros(3),
    )  # fmt: skip


@kernel
def heed_grip(fixed, state, goal, grip, q, rate, heard, dt):  # type: ignore[no-untyped-def]
    """Fit the body to its standing feet, and mark in ``grip.news`` those that begin to slide.

    The controller's ground frame is moved by what the body has gone otherwise than asked.

    Args:
        fixed: The robot.
        state: Modes, load and believed tilt; place, feet and aims are moved together.
        goal: Read for the weight.
        grip: The memory, written.
        q: (J,) measured joint positions; none is nan.
        rate: Turn rate about the vertical, measured or believed [rad/s].
        heard: Whether it is measured.
        dt: Time since the last step [s].
    """
    L = len(state.mode)
    u, weight, off = np.zeros((L, 2)), np.zeros(L), np.zeros((L, 2))
    stand = np.zeros(L, np.bool_)
    fill(grip.news, 0.0)
    x, y = grip.pose[0], grip.pose[1]
    grip.pose[2] += rate * dt
    _see(fixed, state, goal, grip, q, u, stand, weight)
    found = _fit(grip, u, stand, weight, SPAN * (HEADING_TIME / dt if heard else 1.0))
    _reckon(state, grip, grip.pose[0] - x, grip.pose[1] - y, found)
    _place(grip, u, off)
    holding = 0
    for leg in range(L):
        far = math.sqrt(off[leg, 0] ** 2 + off[leg, 1] ** 2)
        loaded = state.load[leg] > LOADED * goal.n[at.WEIGHT]
        holding += stand[leg] and loaded and grip.known[leg] > 0.0 and far < 0.5 * SLIDES
    for leg in range(L):
        _weigh_up(state, goal, grip, leg, off, stand[leg], holding, dt)


@within
def _see(fixed, state, goal, grip, q, u, stand, weight):  # type: ignore[no-untyped-def]
    """Level feet about the body ``u``, which stand and count how much; anchors roll along."""
    R, turn = np.empty((3, 3)), np.empty(3)
    foot, z, o, _, _ = room_of(fixed.packed)
    turning(state.posture[3], state.posture[4], 0.0, R)
    known = grip.tilt[2] > 0.0
    nod = (state.posture[4] - grip.tilt[1]) if known else 0.0
    sway = (state.posture[3] - grip.tilt[0]) if known else 0.0
    c, s = math.cos(grip.pose[2]), math.sin(grip.pose[2])
    for leg in range(len(state.mode)):
        stand[leg] = state.mode[leg] == at.STAND or state.mode[leg] == at.LAND
        if not stand[leg]:
            grip.known[leg] = grip.slid[leg] = grip.over[leg] = grip.told[leg] = 0.0
            grip.off[leg] = 0.0
            continue
        chain(fixed.packed, leg, q, foot, z, o)
        for i in range(2):
            u[leg, i] = R[i, 0] * foot[0] + R[i, 1] * foot[1] + R[i, 2] * foot[2]
        if known and grip.known[leg] > 0.0:
            turn_of(fixed.packed, leg, q, grip.q, turn)
            wx = R[0, 0] * turn[0] + R[0, 1] * turn[1] + R[0, 2] * turn[2] + sway
            wy = R[1, 0] * turn[0] + R[1, 1] * turn[1] + R[1, 2] * turn[2] + nod
            x, y = grip.radius[leg] * wy, -grip.radius[leg] * wx
            grip.anchor[leg, 0] += c * x - s * y
            grip.anchor[leg, 1] += s * x + c * y
        share = state.load[leg] / (FULL * goal.n[at.WEIGHT])
        weight[leg] = min(max(share, LITTLE), 1.0)
    copy(grip.q, q)
    grip.tilt[0], grip.tilt[1], grip.tilt[2] = state.posture[3], state.posture[4], 1.0


@within
def turn_of(packed, leg, q, before, out):  # type: ignore[no-untyped-def]
    """Small turn of a leg's last link against the body since ``before``, (3,) body axes [rad]."""
    c0 = packed.column[leg]
    n = packed.column[leg + 1] - c0
    a = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)
    fill(out, 0.0)
    for m in range(packed.first[leg], packed.first[leg + 1]):
        s, step = packed.offset[m], 0.0
        for k in range(n):
            s += packed.coupling[m, k] * q[c0 + k]
            step += packed.coupling[m, k] * (q[c0 + k] - before[c0 + k])
        x, y, z = _turned(a, packed.turn[m])
        if packed.slides[m]:
            a = (x[0], y[0], z[0], x[1], y[1], z[1], x[2], y[2], z[2])
            continue
        si, co = math.sin(s), math.cos(s)
        for i in range(3):
            out[i] += step * z[i]
        a = (
            co * x[0] + si * y[0], co * y[0] - si * x[0], z[0],
            co * x[1] + si * y[1], co * y[1] - si * x[1], z[1],
            co * x[2] + si * y[2], co * y[2] - si * x[2], z[2],
        )  # fmt: skip


@within
def _turned(a, t):  # type: ignore[no-untyped-def]
    """Columns of the product of two rotations, the first given row by row."""
    return (
        (_row(a, 0, t, 0), _row(a, 3, t, 0), _row(a, 6, t, 0)),
        (_row(a, 0, t, 1), _row(a, 3, t, 1), _row(a, 6, t, 1)),
        (_row(a, 0, t, 2), _row(a, 3, t, 2), _row(a, 6, t, 2)),
    )


@within
def _row(a, i, t, j):  # type: ignore[no-untyped-def]
    return a[i] * t[0, j] + a[i + 1] * t[1, j] + a[i + 2] * t[2, j]


@within
def _fit(grip, u, stand, load, stiff):  # type: ignore[no-untyped-def]
    """Move the pose to what the feet with anchors say: weighted least squares in the plane.

    ``stiff`` [m²] holds the yaw to what it was. Iteratively reweighted (Holland & Welsch 1977).
    Returns whether two feet or more were there to tell.
    """
    prior = grip.pose[2]
    for _ in range(ROUNDS):
        c, s = math.cos(grip.pose[2]), math.sin(grip.pose[2])
        count, w = 0, 0.0
        wx = wy = wrr = bx = by = bt = 0.0
        for leg in range(len(load)):
            if not stand[leg] or grip.known[leg] == 0.0:
                continue
            count += 1
            x = c * u[leg, 0] - s * u[leg, 1]
            y = s * u[leg, 0] + c * u[leg, 1]
            ex = x + grip.pose[0] - grip.anchor[leg, 0]
            ey = y + grip.pose[1] - grip.anchor[leg, 1]
            trust = CERTAIN * CERTAIN / (CERTAIN * CERTAIN + ex * ex + ey * ey)
            k = load[leg] * trust * trust
            w, wx, wy, wrr = w + k, wx + k * x, wy + k * y, wrr + k * (x * x + y * y)
            bx, by, bt = bx - k * ex, by - k * ey, bt - k * (x * ey - y * ex)
        if count < 2 or w < 1e-9:
            return False
        bt += stiff * (prior - grip.pose[2])
        # translation eliminated: [w, 0, -wy; 0, w, wx; -wy, wx, wrr + stiff]
        inner = wrr + stiff - (wx * wx + wy * wy) / w
        turn = (bt + (wy * bx - wx * by) / w) / inner
        grip.pose[2] += turn
        grip.pose[0] += (bx + wy * turn) / w
        grip.pose[1] += (by - wx * turn) / w
    return True


@within
def _reckon(state, grip, dx, dy, found):  # type: ignore[no-untyped-def]
    """Move the controller's ground frame by what the body went otherwise than it believes.

    Place, feet and aims go together: no joint moves. ``dx``, ``dy`` is the measured way of this
    step, where ``found``.
    """
    R, b = np.empty((3, 3)), np.empty(3)
    body_pose(state, R, b)
    ex = ey = 0.0
    if found and grip.believed[2] > 0.0:
        angle = state.place[2] + state.posture[5] - grip.pose[2]
        c, s = math.cos(angle), math.sin(angle)
        ex = c * dx - s * dy - (b[0] - grip.believed[0])
        ey = s * dx + c * dy - (b[1] - grip.believed[1])
        state.place[0] += ex
        state.place[1] += ey
        for leg in range(len(state.mode)):
            state.foot[leg, 0] += ex
            state.foot[leg, 1] += ey
            state.aim[leg, 0] += ex
            state.aim[leg, 1] += ey
    grip.believed[0], grip.believed[1], grip.believed[2] = b[0] + ex, b[1] + ey, 1.0


@within
def _place(grip, u, off):  # type: ignore[no-untyped-def]
    """How far each foot is from its anchor; one without gets it where it is."""
    c, s = math.cos(grip.pose[2]), math.sin(grip.pose[2])
    for leg in range(len(u)):
        off[leg, 0] = grip.pose[0] + c * u[leg, 0] - s * u[leg, 1] - grip.anchor[leg, 0]
        off[leg, 1] = grip.pose[1] + s * u[leg, 0] + c * u[leg, 1] - grip.anchor[leg, 1]
        if grip.known[leg] == 0.0:
            for k in range(2):
                grip.anchor[leg, k] += off[leg, k]
                off[leg, k] = 0.0


@within
def _weigh_up(state, goal, grip, leg, off, stands, holding, dt):  # type: ignore[no-untyped-def]
    """Say that a foot slides; its anchor goes along, also with one that carries nothing."""
    fresh = grip.known[leg] == 0.0
    if not stands:
        return
    grip.known[leg] = 1.0
    if fresh:
        return
    share = state.load[leg] / goal.n[at.WEIGHT]
    far = math.sqrt(off[leg, 0] ** 2 + off[leg, 1] ** 2)
    follow = min(dt / FOLLOWS, 1.0) if share < LIGHT else 0.0
    more = far > SLIDES and share > LOADED and holding >= HOLDING
    grip.over[leg] = grip.over[leg] + dt if more else 0.0
    if grip.over[leg] > FOR - 0.5 * dt:
        grip.slid[leg] += far
        grip.news[leg] = 1.0 - grip.told[leg]
        grip.told[leg], follow, grip.over[leg] = 1.0, 1.0, 0.0
    grip.off[leg] = (1.0 - follow) * far
    for k in range(2):
        grip.anchor[leg, k] += follow * off[leg, k]
