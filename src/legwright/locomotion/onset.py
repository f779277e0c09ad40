"""Where in its cycle a gait begins best, given where the feet are."""

from __future__ import annotations

import numpy as np

from legwright.locomotion import _state as at
from legwright.locomotion._state import Goal, State
from legwright.locomotion.abilities import Abilities
from legwright.robot.tree import Floats

UNDONE = 0.5
"""Cost of a foot that stands where the clock has it in the air."""
ALOFT = 2.0, 4.0
"""Cost of a foot in the air where the clock has it standing: at touch-down, more by the cycle."""
TRIED = 96
"""Phases that are tried."""


def best_phase(able: Abilities, goal: Goal, state: State) -> float:
    """The phase of the clock that fits the feet best, by their distance from where it has them.

    Args:
        able: Abilities.
        goal: Twist, phases, duty factor and cycle time of the gait.
        state: Read.
    """
    duty, cycle = goal.n[at.DUTY], goal.n[at.CYCLE]
    away = _away(able, state)
    x, y = able.fixed.neutral[:, 0], able.fixed.neutral[:, 1]
    vx, vy = goal.twist[0] - goal.twist[2] * y, goal.twist[1] + goal.twist[2] * x
    phases = np.arange(TRIED) / TRIED
    share = (phases[:, None] - goal.phases) % 1.0
    ahead = (0.5 * duty - share) * cycle
    miss = np.hypot(ahead * vx - away[:, 0], ahead * vy - away[:, 1]) / able.fixed.room
    flying = (state.mode != at.STAND) & (state.mode != at.LAND)
    stance = share < duty
    cost = np.where(stance, miss**2, UNDONE)
    cost = np.where(flying, np.where(stance, ALOFT[0] + ALOFT[1] * share, 0.0), cost)
    return float(phases[int(cost.sum(axis=1).argmin())])


def neutral_places(able: Abilities, state: State) -> Floats:
    """Neutral places of the feet in the ground frame, (L, 3)."""
    c, s = np.cos(state.place[2]), np.sin(state.place[2])
    n = able.fixed.neutral
    x = state.place[0] + c * n[:, 0] - s * n[:, 1]
    y = state.place[1] + s * n[:, 0] + c * n[:, 1]
    return np.stack([x, y, np.zeros(len(n))], axis=1)


def _away(able: Abilities, state: State) -> Floats:
    """Feet against their neutral places, heading axes, (L, 2)."""
    c, s = np.cos(state.place[2]), np.sin(state.place[2])
    gap = (state.foot - neutral_places(able, state))[:, :2]
    return np.stack([c * gap[:, 0] + s * gap[:, 1], -s * gap[:, 0] + c * gap[:, 1]], axis=1)
