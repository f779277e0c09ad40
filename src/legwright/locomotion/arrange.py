"""How to stand so that one leg can be spared: shift the body, and set other feet elsewhere.

A push of the ground on the spared foot is a load like any other: the rest of the weight acts
where the other feet must carry it, at ``(W c - F f) / (W - F)`` (balance of moments).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from legwright.locomotion._body import inward, turning
from legwright.locomotion.abilities import Abilities
from legwright.mechanics._polygon import margin
from legwright.mechanics.reach import reach_feet
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

MOST_STEPS = 5
"""So many other feet are set elsewhere at most, or one of them so often."""
CHECKED = 10
"""So many of the best places are tried for reach."""
SPARE = 2e-3
"""The shift aims at so much more than the required margin [m]."""
BRAKE = 0.018
"""A shifting body must be able to go on for so far, see `_foresight` [m]."""
GAIN = 1e-3
"""A step that betters the margin by less is not worth taking [m]."""
SHARES = (1.0, 0.75, 0.5, 0.25, 0.0)
ANGLES = np.arange(12) * (np.pi / 6)
RINGS = (0.45, 0.9)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stood:
    """A robot at rest, seen from its place: heading axes, heights over the ground."""

    feet: Floats
    """(L, 3) [m]"""
    posture: Floats
    """(6,): body over the place: x, y, height [m], roll, pitch, yaw [rad]."""
    com: Floats
    """(2,): centre of mass over the place [m]."""
    carrying: tuple[int, ...]
    """Legs that carry, the one to be spared among them or not."""


class Brace(NamedTuple):
    """A shift of the body that spares a leg as well as possible."""

    shift: Floats
    """(2,) [m]"""
    margin: float
    """Stability margin on the other feet [m]."""
    ok: bool
    """Whether the margin suffices and every foot reaches."""


class Move(NamedTuple):
    """One foot to be set elsewhere, the body shifted meanwhile."""

    leg: int
    x: float
    y: float
    shift: Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Arrangement:
    """What to do before a leg can be spared."""

    moves: tuple[Move, ...]
    brace: Brace


class Spared(NamedTuple):
    """The leg to do without, and how the ground pushes on it."""

    leg: int
    push: float = 0.0
    """[N]"""
    at: tuple[float, float] = (0.0, 0.0)
    """Where it pushes, over the place [m]."""


def arrange(
    robot: Robot, able: Abilities, stood: Stood, spared: Spared, need: float
) -> Arrangement:
    """Find shift and steps after which a leg can be spared.

    Args:
        robot: The robot.
        able: Its abilities.
        stood: How it stands.
        spared: The leg.
        need: Required stability margin [m].

    Returns:
        The arrangement; its brace is not ok where there is none.
    """
    moves: list[Move] = []
    best = brace(robot, able, stood, spared, need)
    while not best.ok and len(moves) < MOST_STEPS:
        found = _best_move(robot, able, stood, spared, need, best)
        if found is None:
            break
        move, best = found
        stood = _moved(stood, move.leg, (move.x, move.y))
        moves.append(move)
    return Arrangement(moves=tuple(moves), brace=best)


def brace(robot: Robot, able: Abilities, stood: Stood, spared: Spared, need: float) -> Brace:
    """Shift the body as little as possible so that the others carry with the required margin.

    Args:
        robot: The robot.
        able: Its abilities.
        stood: How it stands.
        spared: The leg to do without.
        need: Required stability margin [m].

    Returns:
        The shift; where the feet do not allow all of it, the part that they do.
    """
    shift, gap = _wanted(stood, able.weight, spared, need)
    reached = _reaches(robot, able, stood, spared, np.array([s * shift for s in SHARES]))
    if not reached.any():
        return Brace(np.zeros(2), -np.inf, False)
    part = SHARES[int(reached.argmax())]
    if part < 1.0:
        gap = _margin(stood, able.weight, spared, part * shift)
    return Brace(part * shift, gap, gap >= need)


def allowed_push(
    robot: Robot, able: Abilities, stood: Stood, spared: Spared, need: float
) -> tuple[float, Brace]:
    """The part of a push that the others bear as they stand, and the shift for it.

    Args:
        robot: The robot.
        able: Its abilities.
        stood: How it stands.
        spared: The leg and the asked push.
        need: Required stability margin [m].

    Returns:
        Push [N], 0 where even none is borne, and the brace.
    """
    low, high, best = 0.0, spared.push, brace(robot, able, stood, spared._replace(push=0.0), need)
    if not best.ok:
        return 0.0, best
    for _ in range(7):
        tried = 0.5 * (low + high)
        found = brace(robot, able, stood, spared._replace(push=tried), need)
        if found.ok:
            low, best = tried, found
        else:
            high = tried
    return low, best


def _wanted(stood: Stood, weight: float, spared: Spared, need: float) -> tuple[Floats, float]:
    """The smallest shift for a margin, whatever the reach; and the margin it gives."""
    feet = stood.feet[[leg for leg in stood.carrying if leg != spared.leg]]
    if len(feet) < 3:
        return np.zeros(2), -np.inf
    x, y = np.ascontiguousarray(feet[:, 0]), np.ascontiguousarray(feet[:, 1])
    com = stood.com.copy()
    rest = 1.0 - min(spared.push / weight, 0.9)
    pull = (1.0 - rest) * np.asarray(spared.at)
    for _ in range(4 if spared.push > 0.0 else 1):
        com = np.array(inward(x, y, com[0], com[1], need + SPARE))
        if spared.push > 0.0:
            loaded = (com - pull) / rest
            com = com + rest * (np.array(inward(x, y, *loaded, need + SPARE)) - loaded)
    shift = com - stood.com
    return shift, _margin(stood, weight, spared, shift)


def _margin(stood: Stood, weight: float, spared: Spared, shift: Floats) -> float:
    """Stability margin on the other feet, free of the push and under it; the lesser [m]."""
    feet = stood.feet[[leg for leg in stood.carrying if leg != spared.leg]]
    x, y = np.ascontiguousarray(feet[:, 0]), np.ascontiguousarray(feet[:, 1])
    order = np.empty(2 * len(x) + 1, np.int64)
    com = stood.com + shift
    rest = 1.0 - min(spared.push / weight, 0.9)
    loaded = (com - (1.0 - rest) * np.asarray(spared.at)) / rest
    return min(float(margin(x, y, *point, order)) for point in (com, loaded))


def _reaches(
    robot: Robot, able: Abilities, stood: Stood, spared: Spared, shifts: Floats
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """For each shift (N, 2): whether all feet reach, and the spared one is free to lift."""
    R = np.empty((3, 3))
    turning(*stood.posture[3:], R)
    size = np.linalg.norm(shifts, axis=1, keepdims=True)
    ahead = shifts * (1.0 + np.where(size > 1e-6, BRAKE / np.maximum(size, 1e-6), 0.0))
    body = np.column_stack([stood.posture[:2] + ahead, np.full(len(ahead), stood.posture[2])])
    low = (stood.feet[None] - body[:, None]) @ R
    high = low.copy()
    high[:, spared.leg] = (stood.feet[spared.leg] + [0.0, 0.0, able.lift] - body) @ R
    ok = reach_feet(robot, np.concatenate([low, high]), able.fixed.rest).ok
    idle = [leg for leg in range(len(stood.feet)) if leg not in stood.carrying]
    ok[:, idle] = True
    return np.asarray(ok.all(axis=1).reshape(2, -1).all(axis=0))


def _best_move(
    robot: Robot, able: Abilities, stood: Stood, spared: Spared, need: float, now: Brace
) -> tuple[Move, Brace] | None:
    """The one step of another foot that helps most."""
    options: list[tuple[float, int, tuple[float, float]]] = []
    freed: dict[int, Brace] = {}
    for leg in stood.carrying:
        if leg == spared.leg:
            continue
        freed[leg] = brace(robot, able, stood, Spared(leg), need)
        if freed[leg].ok:
            options += [
                (_cost(_moved(stood, leg, place), able.weight, spared, need), leg, place)
                for place in _places(able, leg)
            ]
    best, chosen = now, None
    for _, leg, place in sorted(options)[:CHECKED]:
        found = brace(robot, able, _moved(stood, leg, place), spared, need)
        better = found.ok and not best.ok
        if better or (found.ok == best.ok and found.margin > best.margin + GAIN):
            best, chosen = found, Move(leg, *place, freed[leg].shift)
        if better:
            break
    return None if chosen is None else (chosen, best)


def _cost(stood: Stood, weight: float, spared: Spared, need: float) -> float:
    shift, gap = _wanted(stood, weight, spared, need)
    return float(np.hypot(*shift)) + (0.0 if gap >= need else 1.0 + need - gap)


def _places(able: Abilities, leg: int) -> list[tuple[float, float]]:
    """Where a foot may be set: its neutral place and rings around it."""
    x, y, _ = able.fixed.neutral[leg]
    radii = [ring * able.fixed.room[leg] for ring in RINGS]
    around = [(float(x + r * np.cos(a)), float(y + r * np.sin(a))) for r in radii for a in ANGLES]
    return [(float(x), float(y)), *around]


def _moved(stood: Stood, leg: int, place: tuple[float, float]) -> Stood:
    feet = stood.feet.copy()
    feet[leg, :2] = place
    return replace(stood, feet=feet)
