"""Footing: where the feet stand under a body at rest.

A sheet may state it. Otherwise it is looked for, for any kind of leg: each leg's joint space
is sampled, and the height and foot distance are taken at which every foot has the widest
reachable disc around it, at its own height and above it where it will be lifted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.mechanics.kinematics import kinematics_of
from legwright.mechanics.loads import standing
from legwright.mechanics.reach import reach_feet
from legwright.robot.leg import Kinematics, Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

SAMPLES = 2**14
"""Sampled poses a leg."""

HEIGHTS = np.linspace(0.10, 0.90, 17)
"""Heights of the hips over the ground that are tried, in leg lengths."""

DISTANCES = np.linspace(0.15, 0.95, 17)
"""Foot distances that are tried, in leg lengths."""

RINGS = np.linspace(0.08, 0.48, 6)
"""Radii of the discs that are tried, in leg lengths."""

ENOUGH = 0.24
"""A wider disc than this is no better, in leg lengths."""

LIFT_SHARE = 0.18
"""A foot is lifted by this share of the leg length unless the sheet says otherwise; common
practice, no published source."""

TRIALS = 12
"""So many of the best heights and distances are tried in full."""

CANDIDATES = 40
"""Sampled poses from which a foot point is tried."""

FOUND = "Stance found by the program: the widest reachable disc around every foot."

LEAST_SHIFT = 2e-3
"""A centre of mass this near to the middle of the feet needs no shift [m]."""

SPACING = 0.055
"""A point counts as reachable when a sampled foot point is this near, in leg lengths."""


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


@dataclass(frozen=True, slots=True, eq=False)
class _Cloud:
    """Sampled poses of one leg."""

    poses: Floats
    points: Floats
    knee: Kinematics
    """Answers where the last joint is, in place of the foot."""
    length: float
    """Farthest sampled foot point from the hip [m]."""


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
    return _footing(robot, height, distance)


@lru_cache(maxsize=256)
def _footing(robot: Robot, height: float | None, distance: float | None) -> Footing:
    clouds = _clouds(robot)
    if height is not None and distance is not None:
        return _stand(robot, clouds, height, np.full(len(robot.legs), distance))
    refusal: RequestError | None = None
    for tried, distances in _search(robot, clouds, height, distance)[:TRIALS]:
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


def _stand(robot: Robot, clouds: tuple[_Cloud, ...], height: float, distances: Floats) -> Footing:
    """The footing at a height and foot distances; RequestError where a foot misses the ground."""
    pairs = list(zip(robot.legs.values(), clouds, strict=True))
    aims = np.array([_outward(leg, cloud, -height) for leg, cloud in pairs])
    feet = np.column_stack(
        [robot.hips[:, :2] + distances[:, None] * aims, np.full(len(robot.legs), -height)]
    )
    for name, place in robot.sheet.stance.feet.items():
        feet[list(robot.legs).index(name), :2] = place
    near = [_knee_up(leg, cloud, foot) for (leg, cloud), foot in zip(pairs, feet, strict=True)]
    answer = reach_feet(robot, feet, np.concatenate(near))
    notes: tuple[str, ...] = ()
    if not answer.ok.all():
        feet = _settle(robot, feet, answer.q, answer.error)
        notes = (
            f"Feet stand up to {answer.error.max() * 1e3:.0f} mm beside the stated place, as "
            "near as the joint limits allow.",
        )
    return Footing(feet=read_only(feet), q=read_only(answer.q), height=float(height), notes=notes)


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
    ring = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(8)]) * RINGS[1] * length
    around = np.vstack([ring, ring + np.array([0.0, 0.0, LIFT_SHARE * length])])
    return bool(reach_feet(robot, feet + around[:, None], q).ok.all())


def _settle(robot: Robot, feet: Floats, q: Floats, error: Floats) -> Floats:
    """Accept feet that miss their place sideways but stand on the ground; else say why not."""
    actual = np.stack([leg.foot(q[robot.columns[leg.name]]) for leg in robot.legs.values()])
    sunk = np.abs(actual[:, 2] - feet[:, 2])
    worst = int(sunk.argmax())
    if sunk[worst] > 1e-6:
        name = list(robot.legs)[worst]
        raise RequestError(
            f"body height with foot of {name}",
            f"{-feet[0, 2] * 1e3:.0f} mm",
            f"one at which every foot reaches the ground; {name} stays "
            f"{error[worst] * 1e3:.0f} mm away. Change stance.body_height or "
            "stance.foot_distance, or check the joint limits",
        )
    return actual


@lru_cache(maxsize=16)
def _clouds(robot: Robot) -> tuple[_Cloud, ...]:
    return tuple(_cloud(leg) for leg in robot.legs.values())


def _spread(count: int, dimensions: int) -> Floats:
    """Points that fill the unit cube evenly, (count, dimensions).

    Source: additive recurrence with the generalised golden ratio, Roberts 2018 (from memory).
    """
    ratio = 2.0
    for _ in range(40):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1.0)
    return np.asarray((0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0)


def _cloud(leg: Leg) -> _Cloud:
    low = np.where(np.isfinite(leg.lower), leg.lower, -np.pi)
    high = np.where(np.isfinite(leg.upper), leg.upper, np.pi)
    shares = _spread(SAMPLES, leg.n)
    poses = low + shares * (high - low)
    points = leg.foot(poses)
    length = float(np.linalg.norm(points - leg.hip, axis=1).max())
    knee = kinematics_of(replace(leg.chain, foot=np.zeros(3)))
    return _Cloud(poses, points, knee, length)


def _outward(leg: Leg, cloud: _Cloud, z: float) -> Floats:
    """Unit direction, in the ground plane, to the middle of what a foot reaches at a height."""
    slab = np.abs(cloud.points[:, 2] - z) < 0.08 * cloud.length
    offsets = (
        cloud.points[slab, :2] - leg.hip[:2] if slab.any() else (cloud.points[:, :2] - leg.hip[:2])
    )
    spans = np.linalg.norm(offsets, axis=1, keepdims=True)
    mean = (offsets / np.maximum(spans, 1e-9)).mean(axis=0)
    if np.linalg.norm(mean) < 0.1:  # a hip that turns all round: away from the body's middle
        mean = leg.hip[:2] if np.linalg.norm(leg.hip[:2]) > 1e-6 else np.array([1.0, 0.0])
    angle = np.radians(np.round(np.degrees(np.arctan2(mean[1], mean[0]))))
    return np.array([np.cos(angle), np.sin(angle)])


def _search(
    robot: Robot, clouds: tuple[_Cloud, ...], height: float | None, distance: float | None
) -> list[tuple[float, Floats]]:
    """Body heights, and a foot distance for each leg, widest discs first."""
    length = float(np.median([cloud.length for cloud in clouds]))
    base = float(np.median(robot.hips[:, 2]))
    heights = HEIGHTS * length - base if height is None else np.array([height])
    distances = DISTANCES * length if distance is None else np.array([distance])
    found: list[tuple[float, float, Floats]] = []
    limbs = list(zip(robot.legs.values(), clouds, _trees(robot), strict=True))
    for tried in heights:
        room = np.stack([_room(*limb, -float(tried), distances, length) for limb in limbs])
        own = room.argmax(axis=1)
        common = room.min(axis=0)
        if common.max() > 0.0:  # one distance for all legs comes before each leg's own
            best = int(common.argmax())
            found.append((float(common[best]) + 1e-6, float(tried), distances[[best] * len(own)]))
        least = float(room.max(axis=1).min())
        if least > 0.0:
            # Own distances may stand wider, but only count where a common one is impossible.
            found.append((min(least, float(common.max()) or least), float(tried), distances[own]))
    found.sort(key=lambda entry: -entry[0])
    return [entry[1:] for entry in found]


@lru_cache(maxsize=16)
def _trees(robot: Robot) -> tuple[cKDTree, ...]:
    """Sampled foot points of each leg, for asking what is near."""
    from scipy.spatial import cKDTree  # slow to import, and not needed where a sheet says all

    return tuple(cKDTree(cloud.points) for cloud in _clouds(robot))


def _room(
    leg: Leg, cloud: _Cloud, tree: cKDTree, z: float, distances: Floats, length: float
) -> Floats:
    """Radius of the reachable disc around foot points at several distances, (D,) [m]."""
    aim = _outward(leg, cloud, z)
    centres = np.column_stack([leg.hip[:2] + distances[:, None] * aim, np.full(len(distances), z)])
    angles = np.arange(8) * (np.pi / 4)
    around = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(8)])
    lifted = np.array([[0.0, 0.0, LIFT_SHARE * length]])
    rings = RINGS[:, None, None] * length * around
    probes = [np.zeros((1, 3)), lifted, *(np.vstack([ring, ring + lifted]) for ring in rings)]
    inside = np.ones(len(distances), dtype=bool)
    room = np.zeros(len(distances))
    for radius, probe in zip((0.01, 0.02, *RINGS), probes, strict=True):
        points = centres[:, None] + probe
        gap, _ = tree.query(points.reshape(-1, 3), distance_upper_bound=SPACING * length)
        inside &= np.isfinite(gap).reshape(len(distances), -1).all(axis=1)
        room = np.where(inside, radius * length, room)
    # Enough is enough: of wide discs, the one nearest to the hip loads the servos least.
    enough = np.minimum(room, ENOUGH * length)
    return np.asarray(enough * (1.0 - 0.6 * distances / length))


def _knee_up(leg: Leg, cloud: _Cloud, foot: Floats) -> Floats:
    """A pose near a foot point whose last joint is as high as it gets."""
    gap = np.linalg.norm(cloud.points - foot, axis=1)
    close: NDArray[np.intp] = np.argsort(gap)[: CANDIDATES if leg.n > 2 else 2]
    candidates = leg.reach(np.broadcast_to(foot, (len(close), 3)), near=cloud.poses[close])
    heights = cloud.knee.foot(candidates.q)[:, 2]
    inside = np.minimum(candidates.q - leg.lower, leg.upper - candidates.q).min(axis=1)
    # Clearly higher wins; among like heights, the pose farthest from its limits.
    score = np.round(heights / (0.02 * cloud.length)) + 0.1 * np.minimum(inside, 1.0)
    score = np.where(candidates.ok | ~candidates.ok.any(), score, -np.inf)
    return np.asarray(candidates.q[int(score.argmax())])
