"""Felt contact against true contact: hits, false alarms, delay, force."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats

SCORED = 0.08
"""A touch-down counts once the foot carries this share of body weight."""
ONSET = 0.1
"""Force at which contact begins [N]."""
NOTHING = 0.05
"""A foot with less than this when it is declared touches nothing [N]."""
IN_TIME = 0.15
"""A touch-down declared later than this after it counts is missed [s]."""
LOOK_BACK = 0.5
"""How far back the beginning of a contact is looked for [s]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Touchdowns:
    """The score of one run, all feet together."""

    hits: int
    misses: int
    false: int
    delays: Floats
    """Of the hits, from the first 0.1 N [s]."""
    forces: Floats
    """On the foot when it was declared, over body weight."""

    @property
    def hit_rate(self) -> float:
        """Share of true touch-downs that were felt in time; nan without any."""
        total = self.hits + self.misses
        return self.hits / total if total else float("nan")

    @property
    def false_per_100_steps(self) -> float:
        """Touch-downs declared in the air, per hundred declared ones."""
        declared = self.hits + self.false
        return 100.0 * self.false / declared if declared else float("nan")


class Kind(Enum):
    """How a declared touch-down fares."""

    HIT = "felt"
    MISS = "missed"
    FALSE = "false alarm"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One declared touch-down."""

    leg: int
    row: int
    """Control step in which it was declared."""
    onset: int
    """Control step in which contact began; `row` for a false alarm."""
    force: float
    """On the foot when it was declared [N]."""
    kind: Kind


def marks(
    force: Floats, stance: NDArray[np.bool_], *, rate: float, weight: float
) -> tuple[Mark, ...]:
    """Every declared touch-down, leg by leg; arguments as for `score`."""
    found: list[Mark] = []
    late, back = round(IN_TIME * rate), round(LOOK_BACK * rate)
    for leg in range(force.shape[1]):
        F, stands = force[:, leg], stance[:, leg]
        declared: list[int] = (np.flatnonzero(stands[1:] & ~stands[:-1]) + 1).tolist()
        for k in declared:
            kind, onset = Kind.FALSE, k
            if F[k] >= NOTHING:
                free = np.flatnonzero(F[max(0, k - back) : k + 1] < ONSET)
                onset = max(0, k - back) + (int(free[-1]) + 1 if len(free) else 0)
                heavy = np.flatnonzero(F[onset : k + 1] >= SCORED * weight)
                missed = len(heavy) and k - onset - heavy[0] > late
                kind = Kind.MISS if missed else Kind.HIT
            found.append(Mark(leg=leg, row=k, onset=onset, force=float(F[k]), kind=kind))
    return tuple(found)


def score(force: Floats, stance: NDArray[np.bool_], *, rate: float, weight: float) -> Touchdowns:
    """Compare what was felt with what was so.

    A declared touch-down with less than 0.05 N on the foot is false, bounces included. A hit
    is declared no later than 150 ms after the foot carries 8 % of body weight; its delay runs
    from the first 0.1 N.

    Args:
        force: True upward force on each foot, one row per control step, (T, L) [N].
        stance: Whether the controller counted the foot as standing, (T, L).
        rate: Rows per second [Hz].
        weight: Body weight [N].

    Returns:
        The score.
    """
    found = marks(force, stance, rate=rate, weight=weight)
    hits = [mark for mark in found if mark.kind is Kind.HIT]
    return Touchdowns(
        hits=len(hits),
        misses=sum(mark.kind is Kind.MISS for mark in found),
        false=sum(mark.kind is Kind.FALSE for mark in found),
        delays=np.array([(mark.row - mark.onset) / rate for mark in hits]),
        forces=np.array([mark.force / weight for mark in hits]),
    )
