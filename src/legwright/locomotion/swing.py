"""Swing curves: from lift-off to touch-down, matching the ground at both ends."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from legwright.robot.tree import Floats


class Path(NamedTuple):
    """Position, velocity and acceleration; each (..., 3)."""

    position: Floats
    velocity: Floats
    acceleration: Floats


def swing(share: Floats, duration: float, start: Path, end: Path, lift: float) -> Path:
    """Flight of a foot: the quintic that meets both ends, plus a lift.

    The quintic takes over position, velocity and acceleration of the ground-fixed foot at
    lift-off and gives them back at touch-down, so nothing jumps. The lift is
    ``64 s³ (1 - s)³ · lift``: its speed and acceleration vanish at both ends, its top is
    ``lift`` in mid-swing.

    Args:
        share: Fraction s of the swing, 0 to 1, (N,).
        duration: Swing time [s].
        start: The foot at lift-off, (N, 3) or (3,) each [m, m/s, m/s²].
        end: The foot at touch-down, likewise.
        lift: Height of the top [m].

    Returns:
        Path with (N, 3) each.

    Source: quintic Hermite interpolation, textbook (Craig, Introduction to Robotics, ch. 7).
    """
    s = np.asarray(share)[:, None]
    c0, c1, c2, c3, c4, c5 = _quintic(duration, start, end)
    position = c0 + s * (c1 + s * (c2 + s * (c3 + s * (c4 + s * c5))))
    rate = c1 + s * (2 * c2 + s * (3 * c3 + s * (4 * c4 + s * 5 * c5)))
    bend = 2 * c2 + s * (6 * c3 + s * (12 * c4 + s * 20 * c5))
    u, d = s[:, 0] * (1 - s[:, 0]), 1 - 2 * s[:, 0]
    position[:, 2] += 64 * lift * u**3
    rate[:, 2] += 192 * lift * u**2 * d
    bend[:, 2] += 384 * lift * (u * d**2 - u**2)
    return Path(position, rate / duration, bend / duration**2)


def _quintic(duration: float, start: Path, end: Path) -> tuple[Floats, ...]:
    """Coefficients by powers of s."""
    v0, v1 = start.velocity * duration, end.velocity * duration
    a0, a1 = start.acceleration * duration**2, end.acceleration * duration**2
    gap = end.position - start.position
    return (
        start.position,
        v0,
        0.5 * a0,
        10 * gap - 6 * v0 - 4 * v1 - 1.5 * a0 + 0.5 * a1,
        -15 * gap + 8 * v0 + 7 * v1 + 1.5 * a0 - a1,
        6 * gap - 3 * (v0 + v1) - 0.5 * (a0 - a1),
    )
