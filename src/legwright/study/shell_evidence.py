"""Where each shell comes nearest to what moves: poses for pictures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.fabrication.shell_pairs import PairGap, Worn, moving_pairs, pair_gap, pair_range
from legwright.fabrication.shell_sweep import LinkGap, RangeGap, nearest_gap, range_gap
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.checks.shell_clearance import THINNED, pose_words
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
            which, phase = _moment([len(part) for part in parts], near.sample)
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


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PairEvidence:
    """Two shells that come nearest to each other, and the pose."""

    one: StudiedShell
    other: StudiedShell
    gap: PairGap
    words: str
    """Walk and phase, or joint positions."""
    at: Mapping[str, float]
    """All leg joints at that pose [rad]."""


@lru_cache(maxsize=4)
def pair_evidence(study: Study) -> tuple[PairEvidence | None, PairEvidence | None] | None:
    """Closest poses of shells against each other: while walking, and of random poses.

    Args:
        study: What the check found.

    Returns:
        Both, None where nothing comes near; None where no two shells move against each other.
    """
    robot, shells = study.robot, {one.shell.name: one for one in shells_of(study.robot).studied}
    worn = [Worn(name, one.shell.link, one.shell.mesh, one.part.tree)
            for name, one in shells.items()]  # fmt: skip
    pairs = list(moving_pairs(robot, worn))
    if not pairs:
        return None
    standing = _standing(robot, study)

    def shown(gap: PairGap | None, words: str, q: Floats) -> PairEvidence | None:
        if gap is None:
            return None
        joints = dict(zip(robot.joint_names, map(float, q), strict=True))
        one, other = (shells[name] for name in gap.shells)
        at = {**joints, **gap.positions}
        return PairEvidence(one=one, other=other, gap=gap, words=words, at=at)

    level = [case for case in study.cases.values() if not case.walk.slope]
    walking = None
    if level:
        parts = [case.motion.q[::THINNED] for case in level]
        poses = np.concatenate(parts)
        near = _nearest(pair_gap(robot, one, other, poses) for one, other in pairs)
        if near is not None:
            which, phase = _moment([len(part) for part in parts], near.sample)
            words = f"{level[which].name}, phase {phase:.2f}"
            walking = shown(near, words, poses[near.sample])
    far = _nearest(pair_range(robot, one, other).nearest for one, other in pairs)
    return walking, shown(far, "" if far is None else pose_words(far), standing)


def _nearest(gaps: Iterable[PairGap | None]) -> PairGap | None:
    known = [gap for gap in gaps if gap is not None]
    return min(known, key=lambda gap: gap.distance, default=None)


def _moment(lengths: Sequence[int], sample: int) -> tuple[int, float]:
    """Which part a sample of all parts lies in, and where in it, 0 to 1."""
    starts = np.cumsum([0, *lengths])
    which = int(np.searchsorted(starts, sample, side="right")) - 1
    return which, float(sample - starts[which]) / lengths[which]


def _standing(robot: Robot, study: Study) -> Floats:
    """Joints as first planned, or in the middle of their ranges."""
    for case in study.cases.values():
        return np.asarray(case.motion.q[0])
    middle = [0.5 * (leg.lower + leg.upper) for leg in robot.legs.values()]
    return np.nan_to_num(np.concatenate(middle))
