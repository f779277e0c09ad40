"""Felt slips and stumbles against what was so in the physics world."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

LOADED = 0.04
"""Share of body weight that makes a foot a loaded one."""
SLIP = 0.01
"""A loaded standing foot that moves farther than this has slipped [m]."""
HARDLY = 3e-3
"""A loaded foot that slid by less, and was told to slip, was told falsely [m]."""
BEGUN = 5e-3
"""The delay runs from here [m]."""
MET = 0.08
"""Force on a swinging foot, over body weight, from which it has met something."""
NOTHING = 0.05
"""[N]"""
IN_TIME, JUST_NOW = 0.15, 0.1
"""A stumble is told so soon or missed; and what was touched so lately counts as met [s]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mishaps:
    """The score of one run, all feet together."""

    told: int
    """True ones that were told."""
    missed: int
    false: int
    """Told ones without a cause."""
    among: int
    """Stances or swings in all."""
    delays: Floats
    """Of those told [s]."""


def slips_felt(
    feet: Floats, force: Floats, stance: NDArray[np.bool_], told: NDArray[np.bool_], *,
    rate: float, weight: float,
) -> Mishaps:  # fmt: skip
    """Slips: a loaded standing foot gets farther than 10 mm from where it touched.

    Args:
        feet: True centres of the feet, (T, L, 2) [m].
        force: True upward force on them, (T, L) [N].
        stance: Whether the controller counted the foot as standing, (T, L).
        told: Whether `slipped` was told of that leg in that step, (T, L).
        rate: Rows per second [Hz].
        weight: Of the robot [N].

    Returns:
        The score; told in between, 3 to 10 mm, counts neither way.
    """
    good = missed = false = among = 0
    delays = []
    for leg in range(force.shape[1]):
        loaded = force[:, leg] > LOADED * weight
        for first, stop in _spans(stance[:, leg]):
            firm = loaded[first:stop, None]
            moved = np.diff(feet[first:stop, leg], axis=0, prepend=feet[first : first + 1, leg])
            slid = np.linalg.norm(np.cumsum(moved * firm, axis=0), axis=1)
            news = np.flatnonzero(told[first:stop, leg])
            among += 1
            if slid.max() > SLIP:
                good, missed = good + bool(len(news)), missed + (len(news) == 0)
                if len(news):
                    delays.append((news[0] - np.flatnonzero(slid > BEGUN)[0]) / rate)
            false += bool(len(news)) and slid.max() < HARDLY
    return Mishaps(told=good, missed=missed, false=false, among=among, delays=np.array(delays))


def stumbles_felt(
    force: Floats, swing: NDArray[np.bool_], told: NDArray[np.bool_], *, rate: float, weight: float
) -> Mishaps:
    """Stumbles: a swinging foot meets a force of 8 % of body weight, whatever its direction.

    Args:
        force: True force on the feet, (T, L, 3) [N].
        swing: Whether the foot is in the part of its swing in which it is listened to, (T, L).
        told: Whether `stumbled` was told of that leg in that step, (T, L).
        rate: Rows per second [Hz].
        weight: Of the robot [N].

    Returns:
        The score; only the first of each swing counts. Delays run from the first 0.05 N.
    """
    size = np.linalg.norm(force, axis=2)
    good = missed = false = among = 0
    delays = []
    late, lately = round(IN_TIME * rate), round(JUST_NOW * rate)
    for leg in range(force.shape[1]):
        for first, stop in _spans(swing[:, leg]):
            among += 1
            hard = np.flatnonzero(size[first:stop, leg] > MET * weight)
            news = np.flatnonzero(told[first : stop + 1, leg])
            if len(news):
                row = first + int(news[0])
                false += size[max(row - lately, 0) : row + 1, leg].max() < NOTHING
            if not len(hard):
                continue
            in_time = len(news) and news[0] - hard[0] <= late
            good, missed = good + bool(in_time), missed + (not in_time)
            if in_time:
                onset = int(np.flatnonzero(size[first:stop, leg] > NOTHING)[0])
                delays.append((int(news[0]) - onset) / rate)
    return Mishaps(told=good, missed=missed, false=false, among=among, delays=np.array(delays))


def _spans(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and one past the last of each run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]])))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
