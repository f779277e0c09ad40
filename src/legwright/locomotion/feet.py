"""Foot paths over one cycle, in the heading frame: the body's place over the ground."""

from __future__ import annotations

import numpy as np

from legwright.locomotion.swing import Path, swing
from legwright.robot.tree import Floats


def stance(middle: Floats, twist: Floats, since: Floats) -> Path:
    """Feet that are fixed to the ground, seen from a body that moves with a constant twist.

    Args:
        middle: Where the feet are at mid-stance, (..., 3) [m].
        twist: Forward, to the left [m/s], turning [rad/s], (3,).
        since: Time since mid-stance, (...,) [s].

    Returns:
        Path with (..., 3) each: the exact arc, and its derivatives.

    Source: exponential of a planar twist, Murray, Li and Sastry (1994), sec. 2.3.
    """
    vx, vy, w = twist
    # The body has moved by exp(twist t); seen from it, the foot moves by exp(-twist t).
    angle = -w * since
    along, across = since * np.sinc(angle / np.pi), since * versine(angle)
    c, s = np.cos(angle), np.sin(angle)
    x, y = middle[..., 0], middle[..., 1]
    position = np.empty((*np.broadcast_shapes(since.shape, x.shape), 3))
    position[..., 0] = c * x - s * y - (along * vx - across * vy)
    position[..., 1] = s * x + c * y - (across * vx + along * vy)
    position[..., 2] = middle[..., 2]
    velocity, acceleration = np.zeros_like(position), np.zeros_like(position)
    velocity[..., 0] = -vx + w * position[..., 1]
    velocity[..., 1] = -vy - w * position[..., 0]
    acceleration[..., 0] = w * velocity[..., 1]
    acceleration[..., 1] = -w * velocity[..., 0]
    return Path(position, velocity, acceleration)


def versine(angle: Floats) -> Floats:
    """(1 - cos x) / x without cancellation: sin(x/2) times sin(x/2) / (x/2)."""
    return np.asarray(np.sin(0.5 * angle) * np.sinc(0.5 * angle / np.pi))


def cycle_path(
    middle: Floats, twist: Floats, local: Floats, *, duty: float, cycle: float, lift: float
) -> Path:
    """All feet through a cycle.

    Args:
        middle: Where the feet are at mid-stance, (L, 3) [m].
        twist: Forward, to the left, turning, (3,).
        local: Fraction of the cycle since each foot's touch-down, (T, L) in [0, 1).
        duty: Duty factor.
        cycle: Cycle time [s].
        lift: Height of the swing's top [m].

    Returns:
        Path with (T, L, 3) each.
    """
    half = 0.5 * duty * cycle
    path = stance(middle, twist, local * cycle - half)
    flying = local >= duty
    if flying.any():
        leg = np.broadcast_to(np.arange(len(middle)), local.shape)[flying]
        up = stance(middle, twist, np.full(len(middle), half))
        down = stance(middle, twist, np.full(len(middle), -half))
        flight = swing(
            (local[flying] - duty) / (1.0 - duty),
            (1.0 - duty) * cycle,
            Path(*(part[leg] for part in up)),
            Path(*(part[leg] for part in down)),
            lift,
        )
        for whole, part in zip(path, flight, strict=True):
            whole[flying] = part
    return path
