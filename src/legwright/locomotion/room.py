"""Where there is room for a foot: the stance that legs of any kind suggest themselves.

Each leg's joint space is sampled once. The height and foot distance are best at which every
foot has the widest reachable disc around it, on the ground and above it where it is lifted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from legwright.locomotion._lobe import lobe
from legwright.mechanics.kinematics import ClosedForm, Numeric, kinematics_of
from legwright.mechanics.knee import closed_feet, closed_turns
from legwright.robot.leg import Kinematics, Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

SAMPLES = 2**14
"""Sampled poses of a leg whose joints turn through `USUAL_RANGE` each."""

USUAL_RANGE = 2.5
"""Range of a joint up to which the samples are dense enough [rad]."""

MOST_TIMES = 2.0
"""So many times more samples are taken at most where joints turn farther, or all round."""

HEIGHTS = np.linspace(0.10, 0.90, 17)
"""Heights of the hips over the ground that are tried, in leg lengths."""

DISTANCES = np.linspace(0.15, 0.95, 17)
"""Foot distances that are tried, in leg lengths."""

RINGS = np.linspace(0.08, 0.48, 6)
"""Radii of the discs that are tried, in leg lengths."""

LEAST_RING = float(RINGS[1])
"""Radius of the disc that a foot must keep when it moves under the centre of mass, likewise."""

ROUND_THE_HIP = 0.7
"""A foot under a leg that turns about an upright first axis has a disc no wider than this
share of its distance from that axis: farther in, the leg would swing round or fold over."""

UPRIGHT = 0.7
"""Cosine of an axis's tilt from the vertical up to which it counts as upright."""

ENOUGH = 0.24
"""A wider disc than this is no better, in leg lengths."""

LIFT_SHARE = 0.18
"""A foot is lifted by this share of the leg length unless the sheet says otherwise; common
practice, no published source."""

LOBE_ROUNDS = 4
"""So often the middle direction is taken anew from the half-plane around it."""

CANDIDATES = 40
"""Sampled poses from which a foot point is tried."""

SPACING = 0.055
"""A point counts as reachable when a sampled foot point is this near, in leg lengths."""


@dataclass(frozen=True, slots=True, eq=False)
class Cloud:
    """Sampled poses of one leg."""

    poses: Floats
    knee: Kinematics
    """Answers where the last joint is, in place of the foot."""
    length: float
    """Farthest sampled foot point from the hip [m]."""
    columns: Floats
    """(3, N): the sampled foot points by coordinate [m]."""


@lru_cache(maxsize=4)
def clouds_of(robot: Robot) -> tuple[Cloud, ...]:
    """Sampled poses of each leg of a robot."""
    return tuple(_cloud(leg) for leg in robot.legs.values())


@lru_cache(maxsize=16)
def _spread(count: int, dimensions: int) -> Floats:
    """Points that fill the unit cube evenly, (count, dimensions).

    Source: additive recurrence with the generalised golden ratio, Roberts 2018 (from memory).
    """
    ratio = 2.0
    for _ in range(40):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1.0)
    return read_only((0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0)


def _cloud(leg: Leg) -> Cloud:
    low = np.where(np.isfinite(leg.lower), leg.lower, -np.pi)
    high = np.where(np.isfinite(leg.upper), leg.upper, np.pi)
    times = float(np.prod(np.maximum((high - low) / USUAL_RANGE, 1.0)))
    count = int(SAMPLES * min(times, MOST_TIMES))
    solver = leg.kinematics
    if isinstance(solver, ClosedForm):
        pack = solver.pack
        key = (count, tuple(low), tuple(high), tuple(np.round(pack[12:22], 12)))
        poses, local = _closed_cloud(*key)
        frame = pack[:9].reshape(3, 3)
        # not `@`: it spreads this little over all cores, and takes four times as long
        columns = np.einsum("ij,in->jn", frame, local)
        columns += pack[9:12, None]
    else:
        poses = low + _spread(count, leg.n) * (high - low)
        columns = np.ascontiguousarray(leg.foot(poses).T)
    arms = columns - leg.hip[:, None]
    length = math.sqrt(np.einsum("in,in->n", arms, arms).max())
    return Cloud(poses, _knee_of(leg), length, columns)


def _knee_of(leg: Leg) -> Kinematics:
    """What answers where a leg's last joint is: only `foot` may be asked of it."""
    solver = leg.kinematics
    if isinstance(solver, ClosedForm | Numeric):
        last = solver.screws._replace(foot=solver.screws.origin[-1])
        return replace(solver, screws=last)
    return kinematics_of(replace(leg.chain, foot=np.zeros(3)))


@lru_cache(maxsize=4)
def _closed_cloud(
    count: int, low: tuple[float, ...], high: tuple[float, ...], measures: tuple[float, ...]
) -> tuple[Floats, Floats]:
    """Poses (N, 3) and foot points (3, N) in the leg's own frame: legs of one make have one."""
    poses, turns = _closed_turns(count, low, high, (measures[5], measures[7], measures[9]))
    return poses, read_only(closed_feet(measures, turns))


@lru_cache(maxsize=2)
def _closed_turns(
    count: int, low: tuple[float, ...], high: tuple[float, ...], angles: tuple[float, ...]
) -> tuple[Floats, Floats]:
    """Poses, and cosine and sine of a leg's angles in them: they outlast a change of lengths."""
    poses = np.array(low) + _spread(count, 3) * (np.array(high) - np.array(low))
    measures = np.zeros(10)
    measures[[5, 7, 9]] = angles
    return read_only(poses), read_only(closed_turns(measures.tolist(), *poses.T))


def outward(leg: Leg, cloud: Cloud, z: float) -> Floats:
    """Unit direction, in the ground plane, to the middle of what a foot reaches at a height.

    Args:
        leg: The leg.
        cloud: Its sampled poses.
        z: Height of the foot in the body frame [m].

    Returns:
        (2,), rounded to whole degrees.
    """
    mean = np.zeros(2)
    # a leg that can fold over reaches behind its hip too: the half-plane around the mean counts
    band, hip = 0.08 * cloud.length, leg.hip
    lobe(cloud.columns, float(hip[0]), float(hip[1]), float(z), band, LOBE_ROUNDS, mean)
    if np.linalg.norm(mean) < 0.1:  # a hip that turns all round: away from the body's middle
        mean = leg.hip[:2] if np.linalg.norm(leg.hip[:2]) > 1e-6 else np.array([1.0, 0.0])
    angle = np.radians(np.round(np.degrees(np.arctan2(mean[1], mean[0]))))
    return np.array([np.cos(angle), np.sin(angle)])


def suggestions(
    robot: Robot, clouds: tuple[Cloud, ...], height: float | None, distance: float | None
) -> list[tuple[float, Floats]]:
    """Body heights, and a foot distance for each leg, widest discs first.

    Args:
        robot: The robot.
        clouds: Sampled poses of its legs.
        height: Body frame origin over the ground [m], where it is given.
        distance: From each hip to its foot, along the ground [m], where it is given.

    Returns:
        Pairs of height [m] and distances, (L,) [m].
    """
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


@lru_cache(maxsize=4)
def _trees(robot: Robot) -> tuple[cKDTree, ...]:
    """Sampled foot points of each leg, for asking what is near."""
    from scipy.spatial import cKDTree  # slow to import, and not needed where a sheet says all

    return tuple(cKDTree(np.ascontiguousarray(cloud.columns.T)) for cloud in clouds_of(robot))


def _room(
    leg: Leg, cloud: Cloud, tree: cKDTree, z: float, distances: Floats, length: float
) -> Floats:
    """Radius of the reachable disc around foot points at several distances, (D,) [m]."""
    aim = outward(leg, cloud, z)
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
    if _turns_upright(leg):
        room = np.minimum(room, ROUND_THE_HIP * distances)
    # Enough is enough: of wide discs, the one nearest to the hip loads the servos least.
    enough = np.minimum(room, ENOUGH * length)
    return np.asarray(enough * (1.0 - 0.6 * distances / length))


def _turns_upright(leg: Leg) -> bool:
    """Whether a leg's first joint turns about a nearly upright axis."""
    axis = leg.chain.placements[0, :3, :3] @ leg.chain.axes[0]
    return leg.n > 1 and not leg.chain.prismatic[0] and bool(abs(axis[2]) > UPRIGHT)


def knee_up(leg: Leg, cloud: Cloud, foot: Floats) -> Floats:
    """A pose near a foot point whose last joint is as high as it gets.

    Args:
        leg: The leg.
        cloud: Its sampled poses.
        foot: Foot point in the body frame, (3,) [m].

    Returns:
        (n,) [rad]
    """
    x, y, z = cloud.columns
    gap = (x - foot[0]) ** 2 + (y - foot[1]) ** 2 + (z - foot[2]) ** 2
    count = CANDIDATES if leg.n > 2 else 2
    close: NDArray[np.intp] = np.argpartition(gap, count)[:count]
    close = close[np.argsort(gap[close])]
    candidates = leg.reach(np.broadcast_to(foot, (len(close), 3)), near=cloud.poses[close])
    heights = cloud.knee.foot(candidates.q)[:, 2]
    inside = np.minimum(candidates.q - leg.lower, leg.upper - candidates.q).min(axis=1)
    # Clearly higher wins; among like heights, the pose farthest from its limits.
    score = np.round(heights / (0.02 * cloud.length)) + 0.1 * np.minimum(inside, 1.0)
    score = np.where(candidates.ok | ~candidates.ok.any(), score, -np.inf)
    return np.asarray(candidates.q[int(score.argmax())])
