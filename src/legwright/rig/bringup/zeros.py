"""Zeros of joints: from their mechanical stops, from a jig pose, or by hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.rig.bringup.bench import Bench, Witness
from legwright.rig.bringup.motions import glide, place_of, until_blocked, wait

SPARE = np.radians(25.0)
"""Looked for beyond the stated travel [rad]."""
TRAVEL_OFF = np.radians(2.0)
"""Travel may differ so much from the sheet's [rad]."""
ROUND = np.radians(0.5)
"""Zeros are also shown rounded to this: what a workshop would have meant [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zero:
    """Where a joint is when its drive's own angle is zero."""

    zero: float
    """[rad]"""
    way: str
    """``stops``, ``jig``, or ``hand``."""
    travel: float = float("nan")
    """Measured between the stops; nan where they were not touched [rad]."""
    wanted: float = float("nan")
    """Travel of the sheet [rad]."""

    @property
    def rounded(self) -> float:
        """The nearest round value [rad]."""
        return float(np.round(self.zero / ROUND) * ROUND)

    @property
    def wrong(self) -> str:
        """What is wrong with the travel, in one sentence; empty where nothing is."""
        off = self.travel - self.wanted
        if not abs(off) > TRAVEL_OFF:
            return ""
        return (
            f"travel is {np.degrees(self.travel):.1f}°, the description says "
            f"{np.degrees(self.wanted):.1f}°: something blocks the leg, or the limits are wrong."
        )


def zero_by_stops(
    bench: Bench, node: int, direction: int, lower: float, upper: float
) -> Zero | None:
    """Creep to both stops; the middle of what they say is the zero.

    Gear wind-up and backlash fall out: they are alike at both ends.

    Args:
        bench: The bench; other joints must leave the leg free to move.
        node: The drive.
        direction: +1 where the joint grows the drive's way, else -1.
        lower: Joint limit [rad].
        upper: Joint limit [rad].

    Returns:
        The zero, with the joint left in the middle of its travel; None where a stop was not met.
    """
    most = upper - lower + SPARE
    low = until_blocked(bench, node, -float(direction), most)
    if low is None:
        bench.hold(node, None)
        return None
    high = until_blocked(bench, node, float(direction), most)
    if high is None:
        bench.hold(node, None)
        return None
    glide(bench, node, 0.5 * (low + high), speed=0.6)
    zero = 0.5 * ((lower - direction * low) + (upper - direction * high))
    return Zero(zero=float(zero), way="stops", travel=float(abs(high - low)), wanted=upper - lower)


def zero_by_pose(
    bench: Bench,
    witness: Witness,
    node: int,
    joint: str,
    direction: int,
    angle: float,
    *,
    jig: bool,
) -> Zero | None:
    """Let somebody set the limp joint to a known angle, and read its drive.

    Returns:
        The zero; None where it could not be set.
    """
    bench.hold(node, None)
    if not witness.set_to(joint, angle):
        return None
    wait(bench, 0.1)
    read = float(bench.read().angle[place_of(bench, node)])
    return Zero(zero=angle - direction * read, way="jig" if jig else "hand")
