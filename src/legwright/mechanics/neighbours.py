"""Which links are neighbours, so that their touching is construction and not collision."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics.gauge import Gauge, Indices, Placed, gauge_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

POSES = 96
"""Poses tried before a pair counts as overlapping always."""

CONTACT = 1e-6
"""Shapes nearer than this touch [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Pairs of shapes whose distance matters."""

    shapes: Indices
    """(P, 2)"""
    links: tuple[tuple[str, str], ...]
    """(P,): the two links of each."""
    left_out: tuple[str, ...]
    """Pairs of links left out though they are no neighbours, one sentence each."""

    def of(self, links: tuple[str, str]) -> Indices:
        """The pairs of shapes of two links, (P, 2)."""
        return self.shapes[[i for i, both in enumerate(self.links) if both == links]]


@lru_cache(maxsize=4)
def pairs_of(robot: Robot) -> Pairs:
    """The pairs of shapes that are measured.

    Left out are: shapes of one rigid part (links fixed together); neighbours, that is parts
    joined by a joint, parts without shapes between them not counted; and parts two joints apart
    whose shapes overlap at every pose of a sample of those joints: drawn too coarsely around
    a hip or knee to say anything. The last are named in `left_out`.
    """
    gauge = gauge_of(robot)
    parent = _visible_parent(gauge)
    first, second = np.triu_indices(len(gauge.rigid), k=1)
    a, b = gauge.rigid[first], gauge.rigid[second]
    near = (a == b) | (parent[a] == b) | (parent[b] == a)
    shapes = np.stack([first, second], axis=1)[~near]
    always, left_out = _always_overlapping(robot, gauge, parent, shapes)
    kept = shapes[~always]
    links = tuple((gauge.link[i], gauge.link[j]) for i, j in kept)
    return Pairs(kept, links, left_out)


def random_poses(robot: Robot, count: int, seed: int = 0) -> Floats:
    """Poses spread evenly at random over the joint ranges.

    Args:
        robot: The robot.
        count: How many.
        seed: Of the generator.

    Returns:
        (count, J) [rad]; a joint without limits is turned once around.
    """
    lower, upper = joint_ranges(robot)
    rng = np.random.default_rng(seed)
    return rng.uniform(lower, upper, size=(count, len(lower)))


def joint_ranges(robot: Robot) -> tuple[Floats, Floats]:
    """Smallest and largest joint positions, (J,) each [rad]; ±π where unlimited."""
    return (
        np.where(np.isfinite(robot.lower), robot.lower, -np.pi),
        np.where(np.isfinite(robot.upper), robot.upper, np.pi),
    )


def _visible_parent(gauge: Gauge) -> Indices:
    """For each rigid part, the nearest part above it that has shapes."""
    shown = set(gauge.rigid.tolist())
    above = gauge.parent.copy()
    for part in range(len(above)):
        while above[part] not in shown and above[part] != gauge.parent[above[part]]:
            above[part] = gauge.parent[above[part]]
    return above


def _always_overlapping(
    robot: Robot, gauge: Gauge, parent: Indices, shapes: Indices
) -> tuple[NDArray[np.bool_], tuple[str, ...]]:
    """Pairs of shapes of parts two joints apart that overlap whatever the pose."""
    a, b = gauge.rigid[shapes[:, 0]], gauge.rigid[shapes[:, 1]]
    near = (parent[parent[a]] == b) | (parent[parent[b]] == a)
    keys = {tuple(sorted(pair)) for pair in zip(a[near], b[near], strict=True)}
    placed = gauge.placed(random_poses(robot, POSES, seed=1))
    always = np.zeros(len(shapes), dtype=np.bool_)
    said = []
    for key in sorted(keys):
        mine = np.flatnonzero(near & (np.minimum(a, b) == key[0]) & (np.maximum(a, b) == key[1]))
        if all(_touch(gauge, placed, t, shapes[mine]) for t in range(POSES)):
            always[mine] = True
            one, two = (gauge.link[i] for i in shapes[mine[0]])
            said.append(
                f"{one} and {two}, two joints apart, overlap in every one of {POSES} poses: "
                "drawn too coarsely to judge, left out."
            )
    return always, tuple(said)


def _touch(gauge: Gauge, placed: Placed, t: int, shapes: Indices) -> bool:
    return any(gauge.distance(placed, t, pair) <= CONTACT for pair in shapes)
