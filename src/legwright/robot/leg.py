"""A leg as users see it: names, limits, and the three questions of kinematics."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from legwright.robot.chain import Chain
from legwright.robot.tree import Floats


class Reach(NamedTuple):
    """Answer of an inverse kinematics call; leading shape ``...`` as that of the targets."""

    q: Floats
    """(..., n): joint positions of the nearest reachable foot point [rad]."""
    error: Floats
    """(...,): distance from the target to that foot point [m]."""
    ok: NDArray[np.bool_]
    """(...,): True where the target itself is reached inside the joint limits."""


class Kinematics(Protocol):
    """The port through which a leg answers; `legwright.mechanics` holds the solvers."""

    def foot(self, q: Floats) -> Floats:
        """(..., n) [rad] -> (..., 3) [m]."""
        ...

    def jacobian(self, q: Floats) -> Floats:
        """(..., n) [rad] -> (..., 3, n) [m/rad]."""
        ...

    def reach(self, p: Floats, near: Floats | None) -> Reach:
        """(..., 3) [m] -> Reach."""
        ...


class Solver(Protocol):
    """Chooses the kinematics for a chain."""

    def __call__(self, chain: Chain) -> Kinematics:
        """The kinematics of one chain."""
        ...


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Leg:
    """One leg of a robot."""

    name: str
    """Name by place (``left-front``), or the sheet's."""
    chain: Chain
    kinematics: Kinematics

    @property
    def joint_names(self) -> tuple[str, ...]:
        """Names of the driven joints, base to foot."""
        return self.chain.joint_names

    @property
    def lower(self) -> Floats:
        """Smallest joint positions, (n,) [rad]."""
        return self.chain.lower

    @property
    def upper(self) -> Floats:
        """Largest joint positions, (n,) [rad]."""
        return self.chain.upper

    @property
    def n(self) -> int:
        """Number of driven joints."""
        return len(self.chain.joint_names)

    @property
    def hip(self) -> Floats:
        """Origin of the first joint in the body frame, (3,) [m]."""
        return self.chain.placements[0, :3, 3]

    def foot(self, q: ArrayLike) -> Floats:
        """Foot point for given joint positions.

        Args:
            q: Joint positions, base to foot, (..., n) [rad].

        Returns:
            Foot point in the body frame, (..., 3) [m].
        """
        return self.kinematics.foot(np.asarray(q, dtype=np.float64))

    def jacobian(self, q: ArrayLike) -> Floats:
        """Derivative of the foot point by the joint positions.

        Args:
            q: Joint positions, base to foot, (..., n) [rad].

        Returns:
            d(foot)/dq in the body frame, (..., 3, n) [m/rad].
        """
        return self.kinematics.jacobian(np.asarray(q, dtype=np.float64))

    def reach(self, p: ArrayLike, near: ArrayLike | None = None) -> Reach:
        """Joint positions that put the foot on a target, or as near as it gets.

        Args:
            p: Target in the body frame, (..., 3) [m].
            near: Joint positions to stay close to where several solutions exist, (..., n)
                or (n,) [rad]; the middle of the joint ranges when None.

        Returns:
            Reach(q, error, ok); see there.
        """
        start = None if near is None else np.asarray(near, dtype=np.float64)
        return self.kinematics.reach(np.asarray(p, dtype=np.float64), start)
