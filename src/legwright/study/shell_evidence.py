"""Where each shell comes nearest to what moves: poses for pictures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.fabrication.shell_sweep import LinkGap, RangeGap, nearest_gap, range_gap
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.checks.shell_clearance import THINNED
from legwright.study.evidence import Study
from legwright.study.shells import StudiedShell, shells_of


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ShellEvidence:
    """One shell and its closest poses."""

    one: StudiedShell
    walking: LinkGap | None
    """Nearest through all level walks; None where nothing comes near, or none was walked."""
    walk: str
    """Walk and phase of that pose, in words."""
    walking_at: Mapping[str, float]
    """All leg joints at that pose [rad]."""
    ranges: RangeGap
    ranges_at: Mapping[str, float]
    """All leg joints at the nearest pose over the ranges; those not concerned as standing."""


@lru_cache(maxsize=4)
def shell_evidence(study: Study) -> tuple[ShellEvidence, ...]:
    """Closest poses of every shell that can be read.

    Args:
        study: What the check found.
    """
    robot = study.robot
    return tuple(_evidence(robot, study, one) for one in shells_of(robot).studied)


def _evidence(robot: Robot, study: Study, one: StudiedShell) -> ShellEvidence:
    level = [case for case in study.cases.values() if not case.walk.slope]
    near, words, q = None, "", _standing(robot, study)
    if level:
        parts = [case.motion.q[::THINNED] for case in level]
        poses = np.concatenate(parts)
        near = nearest_gap(robot, one.shell.link, one.shell.mesh, one.part.tree, poses)
        if near is not None:
            starts = np.cumsum([0, *(len(part) for part in parts)])
            which = int(np.searchsorted(starts, near.sample, side="right")) - 1
            phase = (near.sample - starts[which]) / len(parts[which])
            words, q = f"{level[which].name}, phase {phase:.2f}", poses[near.sample]
    ranges = range_gap(robot, one.shell.link, one.shell.mesh, one.part.tree)
    standing = dict(zip(robot.joint_names, map(float, _standing(robot, study)), strict=True))
    reached = {} if ranges.nearest is None else dict(ranges.nearest.positions)
    return ShellEvidence(
        one=one,
        walking=near,
        walk=words,
        walking_at=dict(zip(robot.joint_names, map(float, q), strict=True)),
        ranges=ranges,
        ranges_at={**standing, **reached},
    )


def _standing(robot: Robot, study: Study) -> Floats:
    """Joints as first planned, or in the middle of their ranges."""
    for case in study.cases.values():
        return np.asarray(case.motion.q[0])
    middle = [0.5 * (leg.lower + leg.upper) for leg in robot.legs.values()]
    return np.nan_to_num(np.concatenate(middle))
