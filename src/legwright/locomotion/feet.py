"""Foot paths over one cycle, in the heading frame: the body's place over the ground."""

from __future__ import annotations

import numpy as np

from legwright.locomotion.swing import Path, swing
from legwright.robot.tree import Floats


def stance(middle: Floats, twist: Floats, since: Floats) -> Path:
    """A foot that is fixed to the ground, seen from a body that moves with a constant twist.

    Args:
        middle: Where the foot is at mid-stance, (3,) [m].
        twist: Forward, to the left [m/s], turning [rad/s], (3,).
        since: Time since mid-stance, (T,) [s].

    Returns:
        Path with (T, 3) each: the exact arc, and its derivatives.

    Source: exponential of a planar twist, Murray, Li and Sastry (1994), sec. 2.3.
    """
    vx, vy, w = twist
    angle = -w * since
    # The body has moved by exp(twist t); the foot moves by the inverse, which is exp(-twist t).
    along = since * np.sinc(angle / np.pi)
    across = since * versine(angle)
    shift_x = -(along * vx - across * vy)
    shift_y = -(across * vx + along * vy)
    c, s = np.cos(angle), np.sin(angle)
    position = np.empty((len(since), 3))
    position[:, 0] = c * middle[0] - s * middle[1] + shift_x
    position[:, 1] = s * middle[0] + c * middle[1] + shift_y
    position[:, 2] = middle[2]
    velocity = np.zeros_like(position)
    velocity[:, 0] = -vx + w * position[:, 1]
    velocity[:, 1] = -vy - w * position[:, 0]
    acceleration = np.zeros_like(position)
    acceleration[:, 0] = w * velocity[:, 1]
    acceleration[:, 1] = -w * velocity[:, 0]
    return Path(position, velocity, acceleration)


def versine(angle: Floats) -> Floats:
    """(1 - cos x) / x without cancellation: sin(x/2) times sin(x/2) / (x/2)."""
    return np.asarray(np.sin(0.5 * angle) * np.sinc(0.5 * angle / np.pi))


def cycle_path(
    middle: Floats, twist: Floats, local: Floats, *, duty: float, cycle: float, lift: float
) -> Path:
    """One foot through a cycle.

    Args:
        middle: Where the foot is at mid-stance, (3,) [m].
        twist: Forward, to the left, turning, (3,).
        local: Fraction of the cycle since touch-down, (T,) in [0, 1).
        duty: Duty factor.
        cycle: Cycle time [s].
        lift: Height of the swing's top [m].

    Returns:
        Path with (T, 3) each.
    """
    half = 0.5 * duty * cycle
    path = stance(middle, twist, local * cycle - half)
    ends = stance(middle, twist, np.array([half, -half]))
    up, down = (Path(*(part[i] for part in ends)) for i in (0, 1))
    flying = local >= duty
    if flying.any():
        air = (1.0 - duty) * cycle
        flight = swing((local[flying] - duty) / (1.0 - duty), air, up, down, lift)
        for whole, part in zip(path, flight, strict=True):
            whole[flying] = part
    return path
