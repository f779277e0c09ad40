"""Kernel: one control step in one call, from what is sensed to joint targets.

A call from Python costs one to two microseconds before anything is done, and so does every box
that is handed over: six kernels with two or three boxes each took as long for their calls as
for their work.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from numpy.typing import NDArray

from legwright.kernel import kernel
from legwright.locomotion._bump import heed_bumps
from legwright.locomotion._contact import feel
from legwright.locomotion._grip import heed_grip
from legwright.locomotion._heading import heed_spin, turn_rate
from legwright.locomotion._terrain import heed_gravity, trust_ground
from legwright.locomotion._tick import tick
from legwright.robot.tree import Floats

# Bits of what is to be done with the readings.
FEEL, LEVEL, TURN, SPUN, TRUST = 1, 2, 4, 8, 16
"""Run the observers; heed gravity; heed the turn rate; there is one; trust that ground is level."""

# Bits of what is told.
FLAGGED, SLID = 1, 2
"""A leg has flags; a foot begins to slide."""


class Whole(NamedTuple):
    """All that a control step reads and writes; boxes but for the arrays."""

    fixed: Any
    state: Any
    goal: Any
    feeling: Any
    grip: Any
    touch: NDArray[Any]
    """(L,) of bools: which feet touch."""
    length: Floats
    """(1,): of a leg [m]."""
    kept: Floats
    """Room for a copy of `State.whole`."""
    kept_mode: NDArray[Any]
    """Room for a copy of `State.mode`."""


@kernel
def step(whole, q, current, up, spin, what, dt, h):  # type: ignore[no-untyped-def]
    """One control step: learn from the readings, then move on.

    Args:
        whole: `Whole`, boxed.
        q: (J,) measured joint positions; none is nan.
        current: (J,) measured winding currents.
        up: (3,) direction against gravity, body frame.
        spin: (3,) angular velocity, body frame; 0 but where `SPUN`.
        what: Bits of what is to be done.
        dt: Time since the last readings [s].
        h: Time to move on by [s].

    Returns:
        Bits of what is told.
    """
    fixed, state, goal = whole.fixed, whole.state, whole.goal
    told = 0
    if what & FEEL:
        feeling, grip = whole.feeling, whole.grip
        feel(fixed, state, feeling, q, current, up, spin, dt, whole.touch)
        heed_bumps(fixed, state, q, feeling.asked[1], whole.length[0])
        for leg in range(len(state.mode)):
            state.load[leg] = feeling.push[leg]
        if what & LEVEL:
            heed_gravity(state, up, dt)
        if what & TURN:
            heed_spin(state, spin, up, dt)
        if what & TRUST:
            trust_ground(state, dt)
        heard = what & SPUN != 0
        heed_grip(fixed, state, goal, grip, q, turn_rate(state, spin, up, heard), heard, dt)
        for leg in range(len(state.mode)):
            if grip.news[leg] != 0.0:
                told |= SLID
    tick(fixed, state, goal, whole.touch, h, whole.kept, whole.kept_mode)
    for leg in range(len(state.mode)):
        if state.flags[leg] != 0:
            told |= FLAGGED
    return told
