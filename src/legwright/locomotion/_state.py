"""What the control kernels read and write: arrays by name, numbers by place."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics._recursion import Packed
from legwright.robot.tree import Floats

# Modes of a leg; the drawing is in docs/rooms/locomotion-control.md.
STAND, SWING, FALL, LAND, HELD, BACK, PUSH, DOUBT = 0, 1, 2, 3, 4, 5, 6, 7

FEELS_DOWN = (FALL, DOUBT)
"""Modes in which a foot goes down and feels for the ground."""

# Places in `Goal.n`.
WALKING, DUTY, CYCLE, LIFT, MARGIN, FELT, STEP, OP, SWING_TIME, AX, AY, FALL_SPEED = range(12)
APPROACH, DEEPEST, CALM, RAISE, LOWEST, PRESS, QUICK, WEIGHT, PROBING, ENOUGH = range(12, 22)
SOFTLY = 22
GOALS = 23

# Values of `Goal.n[OP]`.
OP_HOME, OP_HOLD, OP_PLACE = 0.0, 1.0, 2.0

# Places in `State.clock`.
PHASE, RHO, SIGMA, KAPPA, BLOCKED, LEAST, LATCH, WATCHED, FLOW, GATED, BIAS, STILL = range(12)
CLOCKS = 12

# Bits in `State.flags`.
LIFTED, TOUCHED, BLOCKED_BY_MARGIN, STUMBLED, SEARCHED, NO_GROUND, UNBORNE = (
    1, 2, 4, 8, 16, 32, 64,
)  # fmt: skip


class Fixed(NamedTuple):
    """What does not change while the robot lives."""

    packed: Packed
    lower: Floats
    """(J,) [rad]"""
    upper: Floats
    """(J,) [rad]"""
    rest: Floats
    """(J,): joint positions of the neutral stance [rad]."""
    speed: Floats
    """(J,): joint velocity limits [rad/s]."""
    surge: Floats
    """(J,): joint acceleration limits [rad/s²]."""
    neutral: Floats
    """(L, 3): feet of the neutral stance, body's heading frame at ground level [m]."""
    room: Floats
    """(L,): radius around its neutral place in which each foot may stand [m]."""
    spry: Floats
    """(L,): vertical acceleration that each foot's joints allow it [m/s²]."""
    slant: Floats
    """(L, 2): horizontal over downward speed of a foot that feels its way, heading frame."""
    posture_speed: Floats
    """(6,): x, y, z [m/s], roll, pitch, yaw [rad/s]."""
    posture_surge: Floats
    """(6,) [m/s², rad/s²]."""


class Goal(NamedTuple):
    """What is wanted now."""

    twist: Floats
    """(3,): forward, left [m/s], turn [rad/s]."""
    posture: Floats
    """(6,): body over its place: x, y, height [m], roll, pitch, yaw [rad]."""
    phases: Floats
    """(L,)"""
    n: Floats
    """(GOALS,)"""


class State(NamedTuple):
    """Where the controller is. The float arrays are views of `whole`."""

    whole: Floats
    mode: NDArray[np.int64]
    """(L,)"""
    flags: NDArray[np.int64]
    """(L,): what happened to each leg in this step."""
    q: Floats
    qd: Floats
    place: Floats
    """(3,): x, y [m], yaw [rad] of the body's heading frame in the odometry ground frame."""
    twist: Floats
    """(3,): velocity of the heading frame, its own axes."""
    surge: Floats
    """(3,): its rate."""
    posture: Floats
    """(6,)"""
    posture_v: Floats
    """(6,)"""
    sway: Floats
    """(2,): shift of the body that keeps the margin, heading axes [m]."""
    foot: Floats
    """(L, 3): in the ground frame [m]."""
    foot_v: Floats
    foot_a: Floats
    aim: Floats
    """(L, 3): where each swinging foot will land, ground frame [m]."""
    left: Floats
    """(L,): time until the horizontal motion ends [s]."""
    rise: Floats
    """(L,): time until the top of the swing [s]; 0 after it."""
    top: Floats
    """(L,): height of the top of the swing [m]."""
    since: Floats
    """(L,): time in this mode [s]."""
    done: Floats
    """(L,): 1 where the leg has swung in this swing window of the clock."""
    tries: Floats
    """(L,): searches for ground in this swing."""
    com: Floats
    """(3,): centre of mass in the body frame [m]."""
    clock: Floats
    """(CLOCKS,)"""
    relief: Floats
    """(6,): ground under the body: height [m], rise per length forward and to the left; how
    far touch-downs were scattered about their expected height of late, how far they were off
    it all alike, and how far the highest standing foot is over the height [m]."""
    miss: Floats
    """(L,): distance of each foot from where it should be [m]."""
    lag: Floats
    """(L,): how far joints at their limits leave a foot in the air behind its path [m]."""
    load: Floats
    """(L,): upward force of the ground on each foot as felt; 0 for feet that do not feel [N]."""
    surplus: Floats
    """(L,): torque that weight, inertia and friction leave over in any joint of a leg at the most,
    over that joint's friction; 0 for feet that do not feel."""
    pressed: Floats
    """(L,): how far each standing foot was pressed down to take load [m]."""
    track: Floats
    """(3,): where `place` should be: x, y [m], yaw [rad]; only its distance aside counts."""
    steer: Floats
    """(2,): corrections: speed to the left of the track [m/s], turn rate [rad/s]."""
    bump: Floats
    """(L,): time that a foot still backs from what it met [s]; -1 where it has just met it."""


def blank(legs: int, joints: int) -> State:
    """A state of zeros.

    Args:
        legs: L.
        joints: J.
    """
    shapes: dict[str, tuple[int, ...]] = {
        "q": (joints,), "qd": (joints,), "place": (3,), "twist": (3,), "surge": (3,),
        "posture": (6,), "posture_v": (6,), "sway": (2,), "foot": (legs, 3),
        "foot_v": (legs, 3), "foot_a": (legs, 3), "aim": (legs, 3), "left": (legs,),
        "rise": (legs,), "top": (legs,), "since": (legs,), "done": (legs,), "tries": (legs,),
        "com": (3,), "clock": (CLOCKS,), "relief": (6,), "miss": (legs,), "lag": (legs,),
        "load": (legs,), "surplus": (legs,), "pressed": (legs,), "track": (3,), "steer": (2,),
        "bump": (legs,),
    }  # fmt: skip
    sizes = [int(np.prod(shape)) for shape in shapes.values()]
    whole = np.zeros(sum(sizes))
    parts = np.split(whole, np.cumsum(sizes)[:-1])
    views = {name: part.reshape(shapes[name]) for name, part in zip(shapes, parts, strict=True)}
    mode, flags = np.zeros(legs, np.int64), np.zeros(legs, np.int64)
    return State(whole, mode, flags, **views)
