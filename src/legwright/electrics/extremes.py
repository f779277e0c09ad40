"""How near and how far two fixings of a cable come over all joint positions, proven."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from legwright.electrics.stretch import Stretch, distances, rates
from legwright.robot.tree import Floats

GAP = 1e-3
"""Gap between proven bound and reached value at which the search ends, as a share of the
farthest distance that the links allow."""
MOST_CELLS = 200_000
"""The search ends here too; the bounds stay proven, only wider."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extremes:
    """Least and greatest distance between two fixings over the whole joint range."""

    nearest: float
    """No pose brings them nearer [m]."""
    farthest: float
    """No pose brings them farther apart [m]."""
    gap: float
    """`nearest` and `farthest` are reached within this [m]; 0 for closed forms."""
    at_nearest: tuple[float, ...]
    """Drive positions of the nearest pose found [rad or m]."""
    at_farthest: tuple[float, ...]
    """Drive positions of the farthest pose found [rad or m]."""


def extremes(stretch: Stretch) -> Extremes:
    """Least and greatest distance of a stretch's fixings.

    None or one joint in closed form: for a turning joint the distance squared is
    ``c - k cos(q - q0)``, for a sliding one a parabola, so its extremes lie at the ends of the
    travel or where it is stationary. More joints: branch and bound over the box of their
    ranges with a Lipschitz bound, so that no mixed extreme is missed.

    Args:
        stretch: The stretch.

    Returns:
        The extremes.

    Source: geometry; branch and bound with Lipschitz bounds: Piyavskii, USSR Comput. Math.
    Math. Phys. 12 (1972) 57; Shubert, SIAM J. Numer. Anal. 9 (1972) 379 (from memory).
    """
    return _extremes(_Alike(stretch))


class _Alike:
    """A stretch, the same as any other with the same numbers: legs are of one make."""

    def __init__(self, stretch: Stretch) -> None:
        self.stretch = stretch
        arrays = (
            stretch.start, stretch.end, stretch.placements, stretch.axes, stretch.coupling,
            stretch.offset, stretch.lower, stretch.upper,
        )  # fmt: skip
        self.numbers = (*(array.tobytes() for array in arrays), stretch.prismatic)

    def __hash__(self) -> int:
        return hash(self.numbers)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Alike) and self.numbers == other.numbers


@lru_cache(maxsize=256)
def _extremes(alike: _Alike) -> Extremes:
    stretch = alike.stretch
    if len(stretch.joints) <= 1:
        return _closed(stretch)
    far, at_far, gap_far = _search(stretch, 1.0)
    near, at_near, gap_near = _search(stretch, -1.0)
    return Extremes(
        nearest=max(-near, 0.0),
        farthest=far,
        gap=max(gap_far, gap_near),
        at_nearest=at_near,
        at_farthest=at_far,
    )


def _closed(stretch: Stretch) -> Extremes:
    tried = _candidates(stretch)
    found = distances(stretch, tried)
    low, high = int(np.argmin(found)), int(np.argmax(found))
    return Extremes(
        nearest=float(found[low]),
        farthest=float(found[high]),
        gap=0.0,
        at_nearest=tuple(map(float, tried[low])),
        at_farthest=tuple(map(float, tried[high])),
    )


def _candidates(stretch: Stretch) -> Floats:
    """Ends of the travel and the stationary positions in between, (k, n)."""
    if not stretch.joints:
        return np.zeros((1, 0))
    ratio, offset = float(stretch.coupling[0, 0]), float(stretch.offset[0])
    low, high = float(stretch.lower[0]), float(stretch.upper[0])
    tried = [low, high]
    if ratio != 0.0:
        q = _stationary(stretch)
        turns = [0.0] if stretch.prismatic[0] else 2.0 * np.pi * np.arange(-64, 65)
        tried += [u for each in q for u in (each + np.asarray(turns) - offset) / ratio]
    inside = [u for u in tried if low <= u <= high]
    return np.array(inside)[:, None]


def _stationary(stretch: Stretch) -> list[float]:
    """Positions of the one joint where the distance neither grows nor falls."""
    pose, axis, b = stretch.placements[0], stretch.axes[0], stretch.end
    a = pose[:3, :3].T @ (stretch.start - pose[:3, 3])
    if stretch.prismatic[0]:
        return [float(axis @ (a - b))]
    along = float(a @ b - (a @ axis) * (b @ axis))
    across = float(a @ np.cross(axis, b))
    q = float(np.arctan2(across, along))
    return [q, q + np.pi]


def _search(stretch: Stretch, sign: float) -> tuple[float, tuple[float, ...], float]:
    """Proven upper bound of sign * distance, the best pose, and the gap between them."""
    rate = rates(stretch)
    half = (stretch.upper - stretch.lower) / 2.0
    size = float(np.linalg.norm(stretch.end - stretch.start)) + float(
        np.linalg.norm(stretch.placements[:, :3, 3], axis=1).sum()
    )
    tolerance = GAP * max(size, 1e-3)
    corners = np.array(list(product(*zip(stretch.lower, stretch.upper, strict=True))))
    values = sign * distances(stretch, corners)
    best, best_at = float(values.max()), corners[int(np.argmax(values))]
    centres, halves = (stretch.lower + half)[None, :], half[None, :]
    closed = best
    while len(centres):
        values = sign * distances(stretch, centres)
        top = int(np.argmax(values))
        if values[top] > best:
            best, best_at = float(values[top]), centres[top]
        bounds = values + halves @ rate
        open_ = bounds > best + tolerance
        if np.any(~open_):
            closed = max(closed, min(float(bounds[~open_].max()), best + tolerance))
        if open_.sum() > MOST_CELLS:
            closed = max(closed, float(bounds.max()))
            break
        centres, halves = _split(centres[open_], halves[open_], rate)
    return max(closed, best), tuple(map(float, best_at)), max(closed, best) - best


def _split(centres: Floats, halves: Floats, rate: Floats) -> tuple[Floats, Floats]:
    """Each cell in two, across the drive that adds most to its bound."""
    axis = np.argmax(halves * rate, axis=1)
    rows = np.arange(len(centres))
    halves = halves.copy()
    halves[rows, axis] /= 2.0
    shift = np.zeros_like(centres)
    shift[rows, axis] = halves[rows, axis]
    return np.concatenate([centres - shift, centres + shift]), np.concatenate([halves, halves])
