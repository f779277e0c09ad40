"""Footing: where the feet stand under a body at rest.

A sheet may state it. Otherwise it is looked for, for any kind of leg, where `room` finds most
room around every foot.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from legwright.errors import RequestError
from legwright.locomotion.room import (
    LEAST_RING,
    LIFT_SHARE,
    Cloud,
    clouds_of,
    knee_up,
    outward,
    suggestions,
)
from legwright.mechanics.loads import standing
from legwright.mechanics.reach import feet_of, reach_feet
from legwright.robot.leg import Reach
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

TRIALS = 12
"""So many of the best heights and distances are tried in full."""

FOUND = "Stance found by the program: the widest reachable disc around every foot."

LEAST_SHIFT = 2e-3
"""A centre of mass this near to the middle of the feet needs no shift [m]."""

FOLDED = 1.2
"""A joint that turns farther than this within the least ring has folded the leg over [rad]."""

ROUNDS = 200
"""So often a foot is moved to and fro between the ground and what it reaches."""

LEVEL = 1e-7
"""A foot this near to the ground stands on it [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Footing:
    """Where the feet stand when nothing moves."""

    feet: Floats
    """(L, 3): foot points in the body frame [m]."""
    q: Floats
    """(J,): joint positions [rad]."""
    height: float
    """Body frame origin over the ground plane through the foot points [m]."""
    notes: tuple[str, ...] = ()
    """What was found rather than stated, and where the feet are not where they were stated."""


def footing(robot: Robot, *, height: float | None = None, distance: float | None = None) -> Footing:
    """Where a robot stands.

    Args:
        robot: The robot.
        height: Body frame origin over the ground [m]; the sheet's, or found, when None.
        distance: Horizontal distance from each hip axis to its foot [m]; likewise.

    Returns:
        The footing.

    Raises:
        RequestError: when the feet cannot stand on a common ground there.
    """
    if height is not None and not np.isfinite(height):
        raise RequestError("height", height, "a finite number")
    if distance is not None and not (np.isfinite(distance) and distance >= 0.0):
        raise RequestError("distance", distance, "finite and at least 0")
    stance = robot.sheet.stance
    height = stance.body_height if height is None else height
    distance = stance.foot_distance if distance is None else distance
    known = _known(robot)
    if (height, distance) not in known:
        known[height, distance] = _footing(robot, height, distance)
    return known[height, distance]


@lru_cache(maxsize=4)
def _known(robot: Robot) -> dict[tuple[float | None, float | None], Footing]:
    """The footings of a robot that were asked for: height, distance -> footing."""
    return {}


def _footing(robot: Robot, height: float | None, distance: float | None) -> Footing:
    clouds = clouds_of(robot)
    if height is not None and distance is not None:
        return _stand(robot, clouds, height, np.full(len(robot.legs), distance))
    refusal: RequestError | None = None
    for tried, distances in suggestions(robot, clouds, height, distance)[:TRIALS]:
        try:
            stand = _centred(robot, _stand(robot, clouds, tried, distances))
            return replace(stand, notes=(FOUND, *stand.notes))
        except RequestError as error:  # the clouds are coarse: a foot just misses the ground
            refusal = refusal or error
    raise refusal or RequestError(
        "stance",
        f"height {'any' if height is None else f'{height * 1e3:.0f} mm'}",
        "one at which every foot can touch a common ground; these legs have none. State "
        "stance.body_height and stance.foot_distance, or check the joint limits",
    )


def _stand(robot: Robot, clouds: tuple[Cloud, ...], height: float, distances: Floats) -> Footing:
    """The footing at a height and foot distances; RequestError where a foot misses the ground."""
    pairs = list(zip(robot.legs.values(), clouds, strict=True))
    aims = np.array([outward(leg, cloud, -height) for leg, cloud in pairs])
    feet = np.column_stack(
        [robot.hips[:, :2] + distances[:, None] * aims, np.full(len(robot.legs), -height)]
    )
    for name, place in robot.sheet.stance.feet.items():
        feet[list(robot.legs).index(name), :2] = place
    near = [knee_up(leg, cloud, foot) for (leg, cloud), foot in zip(pairs, feet, strict=True)]
    answer = reach_feet(robot, feet, np.concatenate(near))
    q = answer.q
    notes: tuple[str, ...] = ()
    if not answer.ok.all():
        stood, q = _settle(robot, feet, answer)
        aside = float(np.linalg.norm(stood - feet, axis=1).max())
        notes = (
            f"Feet stand up to {aside * 1e3:.0f} mm beside the place meant for them, where the "
            "legs reach the ground.",
        )
        feet = stood
    return Footing(feet=read_only(feet), q=read_only(q), height=float(height), notes=notes)


def _centred(robot: Robot, stand: Footing) -> Footing:
    """The same footing moved under the centre of mass, where the legs allow it."""
    com = standing(robot, stand.q).com[0]
    shift = com - stand.feet.mean(axis=0)
    if np.hypot(*shift[:2]) < LEAST_SHIFT:
        return stand
    for share in (1.0, 0.5, 0.25):
        feet = stand.feet + share * np.array([shift[0], shift[1], 0.0])
        answer = reach_feet(robot, feet, stand.q)
        if answer.ok.all() and _has_room(robot, feet, answer.q):
            note = (
                f"Feet moved {1e3 * share * np.hypot(*shift[:2]):.0f} mm so that they stand "
                "under the centre of mass."
            )
            return replace(
                stand, feet=read_only(feet), q=read_only(answer.q), notes=(*stand.notes, note)
            )
    return stand


def _has_room(robot: Robot, feet: Floats, q: Floats) -> bool:
    """Whether each foot still reaches the least ring, on the ground and lifted."""
    length = float(np.median(np.linalg.norm(feet - robot.hips, axis=1)))
    angles = np.arange(8) * (np.pi / 4)
    ring = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(8)]) * LEAST_RING * length
    around = np.vstack([ring, ring + np.array([0.0, 0.0, LIFT_SHARE * length])])
    answer = reach_feet(robot, feet + around[:, None], q)
    return bool(answer.ok.all() and (np.abs(answer.q - q) < FOLDED).all())


def _settle(robot: Robot, feet: Floats, first: Reach) -> tuple[Floats, Floats]:
    """Ground points and poses of feet that cannot stand on their places.

    Each moves to and fro between the nearest point it reaches and the ground below it, which
    ends where the two meet; a leg with two drives has no choice but that.

    Returns:
        Feet, (L, 3) [m], and joint positions, (J,) [rad].

    Raises:
        RequestError: where a foot stays off the ground.
    """
    ground = feet[:, 2]
    answer = first
    for _ in range(ROUNDS):
        actual = feet_of(robot, answer.q)
        sunk = np.abs(actual[:, 2] - ground)
        worst = int(sunk.argmax())
        if sunk[worst] < LEVEL:
            return actual, answer.q
        answer = reach_feet(robot, np.column_stack([actual[:, :2], ground]), answer.q)
    name = list(robot.legs)[worst]
    raise RequestError(
        f"body height with foot of {name}",
        f"{-ground[0] * 1e3:.0f} mm",
        f"one at which every foot reaches the ground; {name} stays "
        f"{first.error[worst] * 1e3:.0f} mm away. Change stance.body_height or "
        "stance.foot_distance, or check the joint limits",
    )
