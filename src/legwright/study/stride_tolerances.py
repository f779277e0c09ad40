"""What the tolerances of a robot do while it walks: the pose in which it is least exact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from legwright.mechanics.tolerance_chain import sensitivities
from legwright.mechanics.tolerance_sources import Deviation, Shape, Sources
from legwright.mechanics.tolerance_stack import INSIDE, FootError, draws_of, foot_error, quantile
from legwright.mechanics.tolerance_stride import covariance, radius_of, settled
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only
from legwright.study.evidence import Case
from legwright.study.tolerances import LEAST_FEET, leg_sources

PHASES = 12
"""Poses looked at in each cycle."""
FEW, MANY = 100, 4_000
"""Robots drawn in every pose, and in the poses that turn out widest."""
RANK = 0.97
"""Share of few robots that ranks poses; `INSIDE` is more than they can tell."""
WIDEST = 2
"""Poses in which many robots are drawn."""
ALIKE = 1e-3
"""Poses whose feet spread more alike than this are one: those of mirrored legs."""


class Moment(NamedTuple):
    """One pose of a walk."""

    case: str
    """``wave turning left``"""
    phase: float
    """Of the cycle, 0 to 1."""

    @property
    def words(self) -> str:
        """The pose in words."""
        return f"{self.case} at {self.phase:.2f} of the cycle"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class StrideTolerances:
    """The least exact moments of all gaits asked for."""

    poses: int
    """Looked at."""
    foot: FootError
    leg: str
    """Whose foot that is."""
    foot_at: Moment
    stands: bool
    """Whether it is on the ground then."""
    tilt: float | None
    """Angle of the body within which `INSIDE` of robots stay; None with fewer than three feet
    under the centre of mass [rad]."""
    tilt_at: Moment | None
    height: float | None
    """Change of the body's height, likewise [m]."""
    height_at: Moment | None


class _Poses(NamedTuple):
    """N poses of all cases."""

    at: list[Moment]
    q: Floats
    feet: Floats
    contact: NDArray[np.bool_]
    com: Floats


def stride_tolerances(
    robot: Robot, cases: Mapping[str, Case], *, few: int = FEW
) -> StrideTolerances | None:
    """Stack up the tolerances of a robot in the poses of its walks.

    Args:
        robot: The robot.
        cases: Walks; those on a slope are left out.
        few: Robots drawn in every pose.

    Returns:
        The least exact moments; None where nothing is known of the feet, or nothing walks.
    """
    level = {name: case for name, case in cases.items() if not case.walk.slope}
    sources = leg_sources(robot)
    if not level or any(each.missing for each in sources.values()):
        return None
    poses = _poses(level)
    spread, arms, sigmas = [], [], []
    for name, leg in robot.legs.items():
        deviations = sources[name].deviations
        sigma = np.array([one.sigma for one in deviations])
        arm = sensitivities(leg.chain, poses.q[:, robot.columns[name]], deviations)
        spread.append(covariance(arm, sigma))
        arms.append(arm[:, 2])
        sigmas.append(np.sqrt(spread[-1][:, 2, 2]))
    whose, at, foot = _least_exact(robot, sources, poses, radius_of(np.array(spread)))
    height = np.array(sigmas).T[:, None, :] * _normal(few, len(sigmas))
    slope, rise = settled(poses.feet, poses.contact, poses.com, height)
    known = np.asarray(np.isfinite(slope).all(axis=1))
    stand: dict[str, tuple[float, Moment]] = {}
    if known.any() and len(robot.legs) >= LEAST_FEET:
        legs = [sources[name].deviations for name in robot.legs]
        widest = {
            what: _widest(each, known) for what, each in (("tilt", slope), ("height", np.abs(rise)))
        }
        among = sorted({at for each in widest.values() for at in each})
        stood = dict(zip(among, _stood(poses, arms, legs, among), strict=True))
        stand = {
            what: max((stood[at][what], poses.at[at]) for at in each)
            for what, each in widest.items()
        }
    tilt, high = stand.get("tilt"), stand.get("height")
    return StrideTolerances(
        poses=len(poses.at),
        foot=foot,
        leg=whose,
        foot_at=poses.at[at],
        stands=bool(poses.contact[at][list(robot.legs).index(whose)]),
        tilt=None if tilt is None else tilt[0],
        tilt_at=None if tilt is None else tilt[1],
        height=None if high is None else high[0],
        height_at=None if high is None else high[1],
    )


def _poses(cases: Mapping[str, Case]) -> _Poses:
    at: list[Moment] = []
    q, feet, contact, com = [], [], [], []
    for name, case in cases.items():
        motion, total = case.motion, len(case.motion.t)
        picks = np.unique(np.arange(PHASES) * total // PHASES)
        at += [Moment(name, float(pick) / total) for pick in picks]
        q.append(motion.q[picks])
        feet.append(motion.feet[picks])
        contact.append(motion.contact[picks])
        com.append(case.loads.com[picks, :2])
    return _Poses(
        at, np.concatenate(q), np.concatenate(feet), np.concatenate(contact), np.concatenate(com)
    )


def _least_exact(
    robot: Robot, sources: Mapping[str, Sources], poses: _Poses, wide: Floats
) -> tuple[str, int, FootError]:
    """The leg and pose whose foot spreads most, by many legs built by chance."""
    names = list(robot.legs)
    picks: list[tuple[int, int]] = []
    last = np.inf
    for flat in np.argsort(-wide, axis=None):
        leg, at = divmod(int(flat), wide.shape[1])
        if wide[leg, at] < last * (1.0 - ALIKE):
            picks.append((leg, at))
            last = wide[leg, at]
        if len(picks) == WIDEST:
            break
    errors = []
    for leg, at in picks:
        name = names[leg]
        q = poses.q[at][robot.columns[name]]
        deviations = sources[name].deviations
        errors.append((name, at, foot_error(robot.legs[name].chain, q, deviations, seed=leg)))
    return max(errors, key=lambda each: each[2].built)


@cache
def _normal(few: int, legs: int) -> Floats:
    """Standard normal numbers, (few, legs)."""
    return read_only(np.random.default_rng(0).normal(size=(few, legs)))


def _widest(off: Floats, known: NDArray[np.bool_]) -> list[int]:
    """The poses in which a few robots, (N, R), are off most."""
    rank = np.full(len(known), -1.0)
    rank[known] = quantile(off[known], RANK)
    return [at for at in np.argsort(-rank)[:WIDEST].tolist() if known[at]]


def _stood(
    poses: _Poses, arms: list[Floats], legs: Sequence[Sequence[Deviation]], among: list[int]
) -> list[dict[str, float]]:
    """Tilt and height of many robots in some poses."""
    every = [_heights(arm[among], legs[leg], leg) for leg, arm in enumerate(arms)]
    slopes, rises = settled(
        poses.feet[among], poses.contact[among], poses.com[among], np.stack(every, axis=2)
    )
    found = []
    for slope, rise in zip(slopes, rises, strict=True):
        known = np.isfinite(slope)
        tilt, height = np.arctan(slope[known]), np.abs(rise[known])
        found.append(
            {"tilt": float(quantile(tilt, INSIDE)), "height": float(quantile(height, INSIDE))}
        )
    return found


def _heights(arms: Floats, deviations: Sequence[Deviation], leg: int) -> Floats:
    """What many built feet are off along z, (N, MANY) [m], from (N, P) derivatives.

    All normal deviations of a sum make one normal number.
    """
    normal = np.array([one.shape is Shape.NORMAL for one in deviations], dtype=np.bool_)
    sigmas = np.array([one.sigma for one in deviations])
    others = [one for one in deviations if one.shape is not Shape.NORMAL]
    draws = draws_of((*(one.shape for one in others), Shape.NORMAL), MANY, leg)
    even = np.array([one.limit for one in others]) * arms[:, ~normal]
    wide = np.sqrt(np.square(arms[:, normal] * sigmas[normal]).sum(axis=1, keepdims=True))
    low = even.sum(axis=1, keepdims=True)
    return np.asarray(np.concatenate((2.0 * even, wide), axis=1) @ draws - low)
