"""Kernels: which feet carry by what they feel, and each foot taking its share of the load."""

from __future__ import annotations

import numpy as np

from legwright.kernel import copy, kernel, within
from legwright.locomotion import _state as at
from legwright.locomotion._body import margin_of
from legwright.locomotion._clock import standing_feet

CARRIES = 0.05
"""Share of body weight from which a foot counts as carrying."""
PATIENCE = 0.8
"""A lift waits this long for the other feet to carry; then the plain margin must do [s]."""
AMONG = 0.5
"""Share of the required margin that the carrying feet alone must give."""
YIELDING = 0.003
"""Speed of a standing foot for each newton that it lacks of its share [m/s per N]."""
FASTEST = 0.020
"""Of that [m/s]."""
SETTLING = 3.0
"""A robot that stands shares its load for so long after the last foot came down [s]: felt force
is blurred, and joints that followed it for ever would creep."""
NUMB = 1.0
"""Force that gear friction may hide [N]: no foot yields to less."""

STOOD = 1.0
"""A foot stands so long before it is doubted, and before it is doubted again [s]."""
SURPLUS = 1.1
"""Where a joint has more than so many times its friction left over the foot stands on something,
whatever the joint that feels may hide."""


@within
def carrying(state, goal, legs):  # type: ignore[no-untyped-def]
    """Unmark the feet of ``legs`` (L,) that are felt to carry nothing; returns how many are left.

    What all standing feet together feel too little, gear friction holds: each is given its
    part of it. Feet that do not feel count as carrying.
    """
    count, standing, hidden = 0, 0, goal.n[at.WEIGHT]
    for leg in range(len(legs)):
        if state.mode[leg] == at.STAND or state.mode[leg] == at.LAND:
            standing += 1
            hidden -= state.load[leg]
    for leg in range(len(legs)):
        felt = state.load[leg] + hidden / max(standing, 1)
        if legs[leg] and goal.n[at.FELT] > 0.0 and felt < CARRIES * goal.n[at.WEIGHT]:
            legs[leg] = False
        count += legs[leg]
    return count


@kernel
def borne(state, goal, legs, over):  # type: ignore[no-untyped-def]
    """Whether three feet of ``legs`` (L,) or more really carry, the centre of mass among them."""
    really = legs.copy()
    return (
        carrying(state, goal, really) >= 3
        and margin_of(state, really, over) > AMONG * goal.n[at.MARGIN]
    )


@kernel
def share_load(state, goal, over, flying, h):  # type: ignore[no-untyped-def]
    """Press light standing feet down and ease heavy ones, slowly; their mean height stays.

    Each foot's share is the least-squares one: forces that balance weight and moments, linear
    over the ground. What all feet feel too little alike is friction and moves none.

    Source: admittance control (Hogan 1985, from memory).
    """
    L = len(state.mode)
    legs, lack = np.empty(L, np.bool_), np.zeros(L)
    standing = standing_feet(state, legs)
    if standing < 3 or not _shares(state, goal):
        return
    flying |= standing < L  # also one that has lifted within this very step
    n = sx = sy = sxx = sxy = syy = 0.0
    for leg in range(L):
        if legs[leg]:
            x, y = state.foot[leg, 0] - over[0], state.foot[leg, 1] - over[1]
            n, sx, sy = n + 1.0, sx + x, sy + y
            sxx, sxy, syy = sxx + x * x, sxy + x * y, syy + y * y
    det = n * (sxx * syy - sxy * sxy) - sx * (sx * syy - sxy * sy) + sy * (sx * sxy - sxx * sy)
    if det < 1e-9:
        return
    a = goal.n[at.WEIGHT] * (sxx * syy - sxy * sxy) / det
    b = goal.n[at.WEIGHT] * (sxy * sy - sx * syy) / det
    c = goal.n[at.WEIGHT] * (sx * sxy - sxx * sy) / det
    mean = 0.0
    for leg in range(L):
        if legs[leg]:
            x, y = state.foot[leg, 0] - over[0], state.foot[leg, 1] - over[1]
            lack[leg] = max(a + b * x + c * y, 0.0) - state.load[leg]
            mean += lack[leg] / n
    for leg in range(L):
        if state.mode[leg] == at.STAND:
            flying |= _yield(state, goal, leg, lack[leg] - mean, flying, h)


@within
def _shares(state, goal):  # type: ignore[no-untyped-def]
    """Whether load is to be shared now; a push is not, and a robot that holds still does not."""
    if goal.n[at.PRESS] <= 0.0 or goal.n[at.PROBING] > 0.0:
        return False
    fresh = goal.n[at.WALKING] > 0.0
    for leg in range(len(state.mode)):
        fresh |= state.mode[leg] != at.HELD and state.since[leg] < SETTLING
    return fresh


@within
def _yield(state, goal, leg, lack, flying, h):  # type: ignore[no-untyped-def]
    """Press a foot down by what it lacks, or ease it; True where it stands on nothing."""
    if abs(lack) < NUMB:
        return False
    rate = min(max(YIELDING * (lack - NUMB if lack > 0.0 else lack + NUMB), -FASTEST), FASTEST)
    most = goal.n[at.PRESS]
    before = state.pressed[leg]
    state.pressed[leg] = min(max(before + rate * h, -most), most)
    state.foot[leg, 2] -= state.pressed[leg] - before
    light = state.load[leg] < CARRIES * goal.n[at.WEIGHT] and state.surplus[leg] < SURPLUS
    if light and state.since[leg] > STOOD and state.pressed[leg] >= most and not flying:
        _doubt(state, leg)
        return True
    return False


@within
def _doubt(state, leg):  # type: ignore[no-untyped-def]
    """The foot is believed to stand, but nothing seems to be under it: feel if it is so."""
    state.mode[leg] = at.DOUBT
    state.since[leg] = state.bump[leg] = state.tries[leg] = 0.0
    copy(state.aim[leg], state.foot[leg])
