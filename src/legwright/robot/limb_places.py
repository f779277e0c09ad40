"""Where limbs sit and where their ends can be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from legwright.robot.limbs import Limb
from legwright.robot.paths import poses_from, seen_through
from legwright.robot.tree import Floats, Joint, JointKind, Tree, read_only

SAMPLES = 512
"""Postures tried to see where a limb's end can be."""
UP = read_only((0.0, 0.0, 1.0))
UNMOVED = read_only(np.eye(4))


@dataclass(frozen=True, eq=False)
class Places:
    """Hips and reachable ends of some limbs, in the frame of one link."""

    hips: Floats
    """(L, 3): origins of the first joints [m]."""
    ends: tuple[Floats, ...]
    """For each limb, ends at sampled postures within its limits, (SAMPLES, 3) [m]."""
    lengths: Floats
    """(L,): stretched lengths [m]."""
    up: Floats
    """The direction that is up, a unit axis of the frame, (3,)."""

    @cached_property
    def lowest(self) -> Floats:
        """Least height of each limb's end, (L,) [m]."""
        return np.array([float(np.min(ends @ self.up)) for ends in self.ends])

    @property
    def heights(self) -> Floats:
        """Height of each hip, (L,) [m]."""
        return self.hips @ self.up


def places_of(
    tree: Tree, link: str, limbs: Sequence[Limb], held: Mapping[str, float] | None = None
) -> Places:
    """Where limbs are, seen from a link.

    Args:
        tree: The description.
        link: Link in whose frame the points are given.
        limbs: The limbs.
        held: Positions of joints outside the limbs [rad or m]; zero where absent.

    Returns:
        Hips, ends, lengths and the direction that is up.
    """
    poses = poses_from(tree, link, held or {})
    hips = np.array([(poses[m.base] @ m.joints[0].placement)[:3, 3] for m in limbs])
    ends = tuple(end_points(limb, poses[limb.base], held or {}) for limb in limbs)
    lengths = np.array([limb.length for limb in limbs])
    return Places(hips, ends, lengths, _up(hips, ends))


def end_points(limb: Limb, base: Floats, held: Mapping[str, float]) -> Floats:
    """Ends of a limb at sampled postures within its limits.

    Args:
        limb: The limb.
        base: Pose of the link that carries it, (4, 4).
        held: Positions of stiff joints [rad or m].

    Returns:
        (SAMPLES, 3) [m], in the frame that `base` is given in.
    """
    stiff = tuple((j.name, held[j.name]) for j in limb.joints if j.name in held)
    points = _ends(limb, stiff)
    if np.array_equal(base, UNMOVED):
        return points
    return points @ base[:3, :3].T + base[:3, 3]


@lru_cache(maxsize=32)
def _ends(limb: Limb, held: tuple[tuple[str, float], ...]) -> Floats:
    """The same in the frame of the link that carries the limb; asked for by group after group."""
    stiff, drives = dict(held), limb.drives
    ranges = [_span(joint) for joint in drives]
    chance = _chance(len(drives))
    positions = {
        joint.name: low + (high - low) * share
        for joint, (low, high), share in zip(drives, ranges, chance, strict=True)
    }
    points = np.zeros((SAMPLES, 3))
    for joint in reversed(limb.joints):
        if joint.mimic is not None:
            source = positions.get(joint.mimic.source, np.zeros(SAMPLES))
            moved = joint.mimic.multiplier * source + joint.mimic.offset
        else:
            moved = positions.get(joint.name, np.full(SAMPLES, stiff.get(joint.name, 0.0)))
        points = seen_through(joint, moved, points)
    return read_only(points)


@lru_cache(maxsize=16)
def _chance(drives: int) -> Floats:
    """Even numbers from 0 to 1, (drives, SAMPLES)."""
    return read_only(np.random.default_rng(20).uniform(size=(drives, SAMPLES)))


def _span(joint: Joint) -> tuple[float, float]:
    """The range to sample: the limits, at most half a turn to each side of the nearest to 0."""
    half = 1.0 if joint.kind is JointKind.PRISMATIC else np.pi
    start = min(max(0.0, joint.lower), joint.upper)
    return max(joint.lower, start - half), min(joint.upper, start + half)


def _up(hips: Floats, ends: Sequence[Floats]) -> Floats:
    """Up: z, unless the hips clearly lie in a plane that stands upright in this frame.

    Then it is the frame's axis nearest to that plane's normal, on the side the feet are not.
    """
    if len(hips) < 3:
        return UP
    _, spread, rows = np.linalg.svd(hips - hips.mean(axis=0))
    if spread[1] < 1e-6 or spread[2] > 0.35 * spread[1] or abs(rows[2, 2]) >= 0.6:
        return UP
    axis = np.zeros(3)
    axis[int(np.argmax(np.abs(rows[2])))] = 1.0
    feet = np.array([points.mean(axis=0) for points in ends])
    return read_only(axis if float(np.sum((feet - hips) @ axis)) <= 0.0 else -axis)


def plan_view(points: Floats, up: Floats) -> Floats:
    """Points seen from above, forward and left, (L, 2) [m].

    Forward is x, or z where x is up or down.

    Args:
        points: (L, 3) [m]
        up: Unit axis that is up, (3,).
    """
    forward = np.array([1.0, 0.0, 0.0]) if abs(up[0]) < 0.5 else np.array([0.0, 0.0, 1.0])
    return np.stack([points @ forward, points @ np.cross(up, forward)], axis=1)
