"""Kinematics of a leg: closed form where its geometry allows, numeric where not."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.mechanics import _descent, _knee, _serial
from legwright.mechanics.knee import knee_of, middle_of
from legwright.mechanics.screws import Screws, screws_of
from legwright.robot.chain import Chain
from legwright.robot.leg import Kinematics, Reach
from legwright.robot.tree import Floats

TOLERANCE = 1e-6
"""A target counts as reached within this distance [m]."""
TABLE = 1500
"""About how many sampled positions offer starts to the numeric solver."""


def kinematics_of(chain: Chain) -> Kinematics:
    """The solver that fits a chain.

    Args:
        chain: A leg's chain.

    Returns:
        Closed form for three revolute joints without mimic coupling whose last two axes are
        parallel to each other and not to the first; a numeric solver for any other chain.
    """
    screws = screws_of(chain)
    lower = np.ascontiguousarray(chain.lower, dtype=np.float64)
    upper = np.ascontiguousarray(chain.upper, dtype=np.float64)
    pack = knee_of(screws, lower, upper)
    if pack is not None:
        return ClosedForm(screws, lower, upper, pack)
    return numeric_of(screws, lower, upper)


@dataclass(frozen=True, eq=False)
class _Serial:
    screws: Screws
    lower: Floats
    upper: Floats

    def foot(self, q: Floats) -> Floats:
        """(..., n) [rad] -> (..., 3) [m]."""
        flat = _rows("q", q, len(self.lower))
        out = np.empty((len(flat), 3))
        _serial.feet(self.screws, flat, out)
        return out.reshape(*q.shape[:-1], 3)

    def jacobian(self, q: Floats) -> Floats:
        """(..., n) [rad] -> (..., 3, n) [m/rad]."""
        flat = _rows("q", q, len(self.lower))
        out = np.empty((len(flat), 3, flat.shape[1]))
        _serial.jacobians(self.screws, flat, out)
        return out.reshape(*q.shape[:-1], 3, flat.shape[1])


@dataclass(frozen=True, eq=False)
class ClosedForm(_Serial):
    """Three revolute joints, the last two axes parallel."""

    pack: Floats
    """Measures of the closed form, see `knee_of`."""

    def reach(self, p: Floats, near: Floats | None) -> Reach:
        """(..., 3) [m] -> Reach."""
        flat = _rows("p", p, 3)
        start = np.empty((0, 1, 3))
        if near is not None:
            start = spread(near, p.shape[:-1], 3).reshape(-1, 1, 3)
        q, error = np.empty((len(flat), 1, 3)), np.empty((len(flat), 1))
        _knee.reach(self.pack[None], flat.reshape(-1, 1, 3), start, q, error, np.inf)
        return _answer(q, error, p.shape[:-1])


@dataclass(frozen=True, eq=False)
class Numeric(_Serial):
    """Any serial chain: bounded damped Newton descent from many starts."""

    turns: NDArray[np.bool_]
    """(n,): True where a whole turn of the drive changes nothing."""
    table: Floats
    """(S, n): sampled drive positions."""
    places: Floats
    """(S, 3): their foot points [m]."""
    groups: NDArray[np.int64]
    """(S,): the part of joint space each sample lies in."""

    def reach(self, p: Floats, near: Floats | None) -> Reach:
        """(..., 3) [m] -> Reach."""
        flat, n = _rows("p", p, 3), len(self.lower)
        start = middle_of(self.lower, self.upper) if near is None else near
        rows = np.broadcast_to(spread(start, p.shape[:-1], n), (len(flat), n))
        start = np.ascontiguousarray(rows)
        q, error = np.empty((len(flat), n)), np.empty(len(flat))
        _descent.reach(
            self.screws,
            self.lower,
            self.upper,
            self.turns,
            self.table,
            self.places,
            self.groups,
            flat,
            start,
            q,
            error,
        )
        return _answer(q, error, p.shape[:-1])


def _answer(q: Floats, error: Floats, shape: tuple[int, ...]) -> Reach:
    error = error.reshape(shape)
    return Reach(q.reshape(*shape, q.shape[-1]), error, np.asarray(error <= TOLERANCE))


def _rows(what: str, values: Floats, width: int) -> Floats:
    """The values as contiguous rows (N, width), writable: one type to the kernels."""
    if values.ndim == 0 or values.shape[-1] != width:
        raise RequestError(what, f"an array of shape {values.shape}", f"of shape (..., {width})")
    if not math.isfinite(values.sum()) and not np.isfinite(values).all():
        raise RequestError(what, "not finite", "finite numbers only (no NaN, no inf)")
    rows = np.ascontiguousarray(values).reshape(-1, width)
    return rows if rows.flags.writeable else rows.copy()


def spread(near: Floats, shape: tuple[int, ...], width: int) -> Floats:
    """Check ``near`` and give one row for all targets, or one row for each.

    Args:
        near: Joint positions, (width,) or broadcastable to (*shape, width) [rad].
        shape: Leading shape of the targets.
        width: Number of drives.

    Returns:
        (1, width) or (N, width), contiguous.

    Raises:
        RequestError: if the shape does not fit or a value is not finite.
    """
    if near.shape == (width,):
        return _rows("near", near, width)
    try:
        full = np.broadcast_to(near, (*shape, width))
    except ValueError:
        raise RequestError(
            "near", f"an array of shape {near.shape}", f"of shape ({width},) or {(*shape, width)}"
        ) from None
    return _rows("near", full, width)


def numeric_of(screws: Screws, lower: Floats, upper: Floats) -> Numeric:
    """A numeric solver with starts sampled over the joint ranges.

    Args:
        screws: The chain.
        lower: Smallest drive positions, (n,) [rad or m].
        upper: Largest drive positions, (n,) [rad or m].

    Returns:
        The solver.
    """
    n = len(lower)
    single = ~screws.slides[:, None] & (screws.coupling != 0.0)
    whole = np.all(screws.coupling == np.round(screws.coupling), axis=0)
    turns = whole & ~np.any(screws.slides[:, None] & (screws.coupling != 0.0), axis=0)
    turns &= single.any(axis=0)
    reach = math.pi * np.where(turns, 1.0, 0.3)
    below = np.where(np.isfinite(upper), upper - 2.0 * reach, -reach)
    low = np.where(np.isfinite(lower), lower, below)
    high = np.where(np.isfinite(upper), upper, low + 2.0 * reach)
    count = max(3, round(TABLE ** (1.0 / n)))
    steps = (np.arange(count) + 0.5) / count
    grid = np.stack(np.meshgrid(*[steps] * n, indexing="ij"), axis=-1).reshape(-1, n)
    table = low + grid * (high - low)
    places = np.empty((len(table), 3))
    _serial.feet(screws, table, places)
    cuts = max(2, int(_descent.STARTS ** (1.0 / n) + 1e-9))
    groups = (grid * cuts).astype(np.int64) @ cuts ** np.arange(n)
    return Numeric(screws, lower, upper, turns, table, places, groups % _descent.STARTS)
