"""The place for a foot that is nearest to the one asked for, and how high a leg lifts there."""

from __future__ import annotations

import numpy as np

from legwright.locomotion._body import turning
from legwright.locomotion.abilities import Abilities
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

ROUNDS = 40
"""So often a place is moved to and fro between the ground and what the leg reaches."""
CLOSE = 5e-4
"""A foot this near to the ground and its place stands there [m]."""
INSET = 3e-3
"""A place at the rim of reach is drawn in by this much [m]."""
SHARES = np.linspace(1.0, 0.0, 41)


def nearest_foothold(
    robot: Robot, able: Abilities, posture: Floats, feet: Floats, leg: int,
    asked: tuple[float, float],
) -> tuple[float, float]:  # fmt: skip
    """The place on the ground, nearest to the asked one, that a foot reaches from above.

    Moved to and fro between the leg's reach and the plane of the ground (alternating
    projections), then drawn in towards where the foot is now until it may also lift there.

    Args:
        robot: The robot.
        able: Its abilities.
        posture: Body over its place, (6,).
        feet: Where the feet are now, heading axes over the place, (L, 3) [m].
        leg: Which leg.
        asked: Over the place, heading axes [m].

    Returns:
        The place [m]: what was asked where the leg reaches it.
    """
    limb = tuple(robot.legs.values())[leg]
    near = able.fixed.rest[robot.columns[limb.name]]
    R, body = _pose(posture)
    lift = np.array([0.0, 0.0, 0.5 * able.lift])
    ground = np.array([asked[0], asked[1], 0.0])

    def free(places: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        points = np.stack([places, places + lift]) - body
        return np.asarray(limb.reach(points @ R, near).ok.all(axis=0))

    if free(ground[None])[0]:
        return float(asked[0]), float(asked[1])
    spot = ground.copy()
    for _ in range(ROUNDS):
        got = limb.foot(limb.reach((spot - body) @ R, near).q) @ R.T + body
        if abs(got[2]) < CLOSE and np.hypot(*(got - spot)[:2]) < CLOSE:
            break
        spot = np.array([got[0], got[1], 0.0])
    home = np.array([*able.fixed.neutral[leg, :2], 0.0])
    span = max(float(np.hypot(*(spot - home)[:2])), 1e-6)
    shares = np.clip(SHARES - INSET / span, 0.0, 1.0)
    places = home + shares[:, None] * (spot - home)
    best = places[int(free(places).argmax())]
    return float(best[0]), float(best[1])


def nearest_height(
    robot: Robot, able: Abilities, posture: Floats, feet: Floats, leg: int, asked: float
) -> float:
    """How high, up to what is asked, a foot lifts over where it is.

    Args:
        robot: The robot.
        able: Its abilities.
        posture: Body over its place, (6,).
        feet: Where the feet are now, heading axes over the place, (L, 3) [m].
        leg: Which leg.
        asked: Height over the ground under the foot [m].

    Returns:
        Height [m].
    """
    limb = tuple(robot.legs.values())[leg]
    R, body = _pose(posture)
    heights = np.linspace(0.0, asked, 41)
    points = feet[leg] + heights[:, None] * np.array([0.0, 0.0, 1.0]) - body
    ok = limb.reach(points @ R, able.fixed.rest[robot.columns[limb.name]]).ok
    return float(heights[max(int(np.argmin(np.append(ok, False))) - 1, 0)])


def _pose(posture: Floats) -> tuple[Floats, Floats]:
    R = np.empty((3, 3))
    turning(*posture[3:], R)
    return R, np.asarray(posture[:3])
