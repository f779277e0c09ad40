"""Stacks of deviations: worst case, root sum square, and samples of built legs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from legwright.mechanics._zonotope import longest, merged
from legwright.mechanics.tolerance_chain import arms_of, feet_drawn, levers_of
from legwright.mechanics.tolerance_sources import Deviation, Shape, named
from legwright.robot.chain import Chain
from legwright.robot.tree import Floats, read_only

INSIDE = 0.9973
"""Share of what is built that lies within three standard deviations of a normal one."""
SAMPLES = 8_000
PARALLEL = 1e-9
"""Sine of the angle below which two directions count as one."""


class Stack(NamedTuple):
    """A sum of deviations along one direction."""

    worst: float
    """All at their limits the worst way: Σ|tᵢ|."""
    rss: float
    """Root sum square: √Σtᵢ²."""


def stack(limits: Sequence[float]) -> Stack:
    """Worst case and root sum square of a chain of lengths.

    Args:
        limits: ± of each, any sign and unit.

    Returns:
        Both, same unit.

    Source: textbook; root sum square supposes independent, centred, normal deviations.
    """
    values = np.abs(np.asarray(limits, dtype=np.float64))
    return Stack(float(values.sum()), float(np.sqrt((values**2).sum())))


def widest(arms: Floats) -> float:
    """Largest length of a sum of vectors, each taken from −1 to 1 times: exact.

    The set of all such sums is a zonotope. Its vertices are found face by face: the faces
    have the normals aᵢ × aⱼ.

    Args:
        arms: (3, P).

    Returns:
        Same unit.

    Source: Ziegler, Lectures on Polytopes (1995), sec. 7.3; the length is convex, so that its
    greatest value lies at a vertex.
    """
    rows = np.ascontiguousarray(np.asarray(arms, dtype=np.float64).T)
    kept = np.empty_like(rows)
    count = merged(rows, PARALLEL, kept)
    return float(longest(kept[:count], PARALLEL)) if count else 0.0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FootError:
    """Where the feet of built legs lie around the place that is meant."""

    worst: float
    """Largest distance, all deviations at their limits the worst way [m]."""
    rss: Floats
    """(3,): three standard deviations along x, y, z of the body frame [m]."""
    built: float
    """Distance within which `INSIDE` of sampled legs have their foot, exact kinematics [m]."""
    sampled: Floats
    """(3,): three standard deviations of the sampled legs along x, y, z [m]."""
    shares: tuple[tuple[str, float], ...]
    """Cause -> share of the variance (of all three directions), largest first."""
    rise: float
    """Largest offset along z of the body frame, all deviations the worst way [m]."""
    offsets: Floats
    """(N, 3): sampled foot points less the meant one [m]."""


def foot_error(
    chain: Chain,
    q: Floats,
    deviations: Sequence[Deviation],
    *,
    samples: int = SAMPLES,
    seed: int = 0,
) -> FootError:
    """How far a leg's foot lies from where it is meant to be.

    Args:
        chain: The leg.
        q: Drive positions of the posture, (n,) [rad].
        deviations: P of them.
        samples: Legs built by chance.
        seed: Of chance.

    Returns:
        The error.
    """
    levers = levers_of(chain, deviations)
    arms, meant = (each[0] for each in arms_of(levers, chain, np.asarray(q)[None]))
    limits = np.array([one.limit for one in deviations])
    sigmas = np.array([one.sigma for one in deviations])
    draws = draws_of(tuple(one.shape for one in deviations), samples, seed)
    low, span = drawn_by(deviations)
    offsets, far = feet_drawn(levers, chain, q, draws, low, span, meant=meant)
    middle = np.full(samples, 1.0 / samples) @ offsets
    square = np.einsum("nk,nk->k", offsets, offsets) / samples
    variance = (arms * sigmas) ** 2
    return FootError(
        worst=widest(arms * limits),
        rss=read_only(3.0 * np.sqrt(variance.sum(axis=1))),
        built=float(quantile(far, INSIDE)),
        sampled=read_only(3.0 * np.sqrt(np.maximum(square - middle * middle, 0.0))),
        shares=_shares(deviations, variance.sum(axis=0)),
        rise=float(np.abs(arms[2] * limits).sum()),
        offsets=read_only(offsets),
    )


def quantile(values: Floats, share: float) -> Floats:
    """What a share of values lies below, by straight lines between neighbours.

    As numpy's `quantile`, whose own steps take longer than sorting a few thousand numbers.

    Args:
        values: (..., N), none of them nan.
        share: 0 to 1.

    Returns:
        (...,)
    """
    at = share * (values.shape[-1] - 1)
    low = int(at)
    high = min(low + 1, values.shape[-1] - 1)
    sorted_there = np.partition(values, (low, high), axis=-1)
    below, above = sorted_there[..., low], sorted_there[..., high]
    return np.asarray(below + (above - below) * (at - low))


@lru_cache(maxsize=16)
def draws_of(shapes: tuple[Shape, ...], count: int, seed: int) -> Floats:
    """Chance itself: standard normal numbers, and even ones from 0 to 1.

    No measure of a leg is in it, so that it outlasts changes of the robot.

    Args:
        shapes: P of them.
        count: N.
        seed: Of chance.

    Returns:
        (P, N)
    """
    rng = np.random.default_rng(seed)
    rows = [
        rng.normal(size=count) if shape is Shape.NORMAL else rng.uniform(size=count)
        for shape in shapes
    ]
    return read_only(np.array(rows).reshape(len(shapes), count))


def drawn_by(deviations: Sequence[Deviation]) -> tuple[Floats, Floats]:
    """What makes deviations of a draw of chance: low and span, (P,) [m or rad].

    A leg deviates by ``low + span * draw``, see `draws_of`; normal deviations are not cut off at
    their limits.

    Args:
        deviations: P of them.
    """
    normal = np.array([one.shape is Shape.NORMAL for one in deviations], dtype=np.bool_)
    limits = np.array([one.limit for one in deviations])
    sigmas = np.array([one.sigma for one in deviations])
    return np.where(normal, 0.0, -limits), np.where(normal, sigmas, 2.0 * limits)


def _shares(deviations: Sequence[Deviation], variance: Floats) -> tuple[tuple[str, float], ...]:
    total = float(variance.sum()) or 1.0
    sums = {name: 0.0 for name in named(deviations)}
    for one, value in zip(deviations, variance, strict=True):
        sums[one.name] += float(value) / total
    return tuple(sorted(sums.items(), key=lambda pair: -pair[1]))
