"""Forward and inverse kinematics of any leg behind one port.

Three revolute joints whose last two axes are parallel are solved in closed form, wherever the
axes sit; every other leg by a damped Newton method with the exact Hessian. Where a target
cannot be reached, both give the nearest foot point inside the joint limits.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from legwright.errors import RequestError
from legwright.mechanics._chain_kernels import Links, feet, jacobians, links_of
from legwright.mechanics._nearest import nearest
from legwright.mechanics._three_joints import constants_of, solve_many
from legwright.robot.chain import Chain
from legwright.robot.leg import Kinematics, Reach
from legwright.robot.tree import Floats

TOLERANCE = 1e-7
"""A target counts as reached within this distance [m]."""

STARTS = 6
"""Starts of the numeric solver from the lattice of poses."""

LATTICE = 2500
"""About how many poses the lattice holds."""


def kinematics_of(chain: Chain) -> Kinematics:
    """The solver that fits a chain.

    Args:
        chain: A leg as bare numbers.

    Returns:
        `ThreeJoints` where there is a closed form, else `AnyJoints`.
    """
    links = links_of(chain)
    row = constants_of(chain, links)
    return AnyJoints(chain, links) if row is None else ThreeJoints(chain, links, row)


def middle_of(chain: Chain) -> Floats:
    """Middle of the joint ranges, (n,) [rad]; 0 where a joint has no limits."""
    low, high = chain.lower, chain.upper
    bounded = np.isfinite(low) & np.isfinite(high)
    middle = 0.5 * (np.where(bounded, low, 0.0) + np.where(bounded, high, 0.0))
    return np.asarray(np.clip(middle, low, high))


class AnyJoints:
    """Kinematics of a chain of any number and kind of joints; numeric inverse."""

    def __init__(self, chain: Chain, links: Links) -> None:
        self.chain = chain
        self._links = links
        self._middle = middle_of(chain)
        self._n = len(chain.joint_names)

    def foot(self, q: Floats) -> Floats:
        """(..., n) [rad] -> (..., 3) [m]."""
        flat, lead = self._flat(q, "q", self._n)
        out = np.empty((len(flat), 3))
        feet(self._links, flat, out)
        return out.reshape(*lead, 3)

    def jacobian(self, q: Floats) -> Floats:
        """(..., n) [rad] -> (..., 3, n) [m/rad]."""
        flat, lead = self._flat(q, "q", self._n)
        out = np.empty((len(flat), 3, self._n))
        jacobians(self._links, flat, out)
        return out.reshape(*lead, 3, self._n)

    def reach(self, p: Floats, near: Floats | None) -> Reach:
        """(..., 3) [m] -> Reach; see `legwright.robot.leg.Leg.reach`."""
        targets, lead = self._flat(p, "p", 3)
        start = self._near(near, lead)
        q, error = self.nearest(targets, np.broadcast_to(start, (len(targets), self._n)))
        return Reach(
            q.reshape(*lead, self._n), error.reshape(lead), (error <= TOLERANCE).reshape(lead)
        )

    def nearest(self, targets: Floats, near: Floats) -> tuple[Floats, Floats]:
        """Nearest reachable foot points by search: (N, 3), (N, n) -> q (N, n), error (N,)."""
        q, error = np.empty((len(targets), self._n)), np.empty(len(targets))
        lattice, points = self._lattice
        nearest(
            self._links,
            targets,
            np.ascontiguousarray(near),
            self.chain.lower,
            self.chain.upper,
            lattice,
            points,
            STARTS,
            q,
            error,
        )
        return q, error

    @cached_property
    def _lattice(self) -> tuple[Floats, Floats]:
        """Poses that cover the joint ranges, (K, n), and their foot points, (K, 3)."""
        each = max(2, round(LATTICE ** (1.0 / self._n)))
        low = np.where(np.isfinite(self.chain.lower), self.chain.lower, -np.pi)
        high = np.where(np.isfinite(self.chain.upper), self.chain.upper, np.pi)
        if each**self._n <= 2 * LATTICE:
            grids = [np.linspace(a, b, each) for a, b in zip(low, high, strict=True)]
            poses = np.stack(np.meshgrid(*grids, indexing="ij"), -1).reshape(-1, self._n)
        else:
            poses = np.random.default_rng(0).uniform(low, high, (LATTICE, self._n))
        points = np.empty((len(poses), 3))
        feet(self._links, np.ascontiguousarray(poses), points)
        return np.ascontiguousarray(poses), points

    def _near(self, near: Floats | None, lead: tuple[int, ...]) -> Floats:
        """Start poses, (1, n) or (N, n)."""
        if near is None:
            return self._middle[None]
        if near.ndim == 0 or near.shape[-1] != self._n:
            raise RequestError("near", near.shape, f"of shape (..., {self._n})")
        if np.isnan(near).any():
            raise RequestError("near", "nan", "finite joint positions")
        if near.ndim == 1:
            return np.ascontiguousarray(near[None])
        try:
            full = np.broadcast_to(near, (*lead, self._n))
        except ValueError:
            raise RequestError(
                "near", near.shape, f"of shape ({self._n},) or {(*lead, self._n)}"
            ) from None
        return np.ascontiguousarray(full).reshape(-1, self._n)

    @staticmethod
    def _flat(values: Floats, name: str, width: int) -> tuple[Floats, tuple[int, ...]]:
        if values.ndim == 0 or values.shape[-1] != width:
            raise RequestError(name, values.shape, f"of shape (..., {width})")
        flat = np.ascontiguousarray(values).reshape(-1, width)
        if not np.isfinite(flat).all():
            raise RequestError(name, "nan or inf", "finite numbers")
        return flat, values.shape[:-1]


class ThreeJoints(AnyJoints):
    """Kinematics of a leg that has the closed form."""

    def __init__(self, chain: Chain, links: Links, row: Floats) -> None:
        super().__init__(chain, links)
        self.row = row
        """Constants of the closed form."""
        self._rows = np.ascontiguousarray(row[None])

    def reach(self, p: Floats, near: Floats | None) -> Reach:
        """(..., 3) [m] -> Reach; see `legwright.robot.leg.Leg.reach`."""
        targets, lead = self._flat(p, "p", 3)
        start = self._near(near, lead)
        q = np.empty((len(targets), 3))
        error, ok = np.empty(len(targets)), np.empty(len(targets), dtype=np.bool_)
        solve_many(self._rows, targets, start, q, error, ok)
        self.mend(targets, start, q, error, ok)
        return Reach(q.reshape(*lead, 3), error.reshape(lead), ok.reshape(lead))

    def mend(
        self,
        targets: Floats,
        near: Floats,
        q: Floats,
        error: Floats,
        ok: np.ndarray[tuple[int], np.dtype[np.bool_]],
    ) -> None:
        """Search the nearest foot point wherever the closed form found none, in place."""
        if ok.all():
            return
        lost = np.flatnonzero(~ok)
        start = near if len(near) == 1 else near[lost]
        found, distance = self.nearest(targets[lost], np.broadcast_to(start, (len(lost), 3)))
        q[lost], error[lost] = found, distance
        ok[lost] = distance <= TOLERANCE
