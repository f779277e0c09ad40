"""A sampled cycle of motion: what locomotion plans and mechanics weighs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats, Packed


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Motion(Packed):
    """T samples of L feet and J leg joints over one cycle; sample T would equal sample 0.

    The ground frame has z along the ground's normal and x, y in the ground plane (z = 0),
    its x along the body's heading at t = 0. On a slope it is gravity that tilts.
    """

    t: Floats
    """(T,): sample times from 0, the cycle's end excluded [s]."""
    q: Floats
    """(T, J): joint positions [rad]; columns as `Robot.joint_names`."""
    qd: Floats
    """(T, J): joint velocities [rad/s]."""
    qdd: Floats
    """(T, J): joint accelerations [rad/s²]."""
    feet: Floats
    """(T, L, 3): foot points in the body frame [m]."""
    contact: NDArray[np.bool_]
    """(T, L): True while the foot is planned to stand on the ground."""
    body: Floats
    """(T, 7): body frame in the ground frame: x, y, z [m], then quaternion w, x, y, z."""
    twist: Floats
    """(T, 6): velocity of the body frame's origin and angular velocity, body axes [m/s, rad/s]."""
    acceleration: Floats
    """(T, 6): linear acceleration of the body frame's origin against the ground and angular
    acceleration, body axes, gravity left out [m/s², rad/s²]."""
    gravity: Floats
    """(3,): gravity in the ground frame [m/s²]."""
    reach_error: Floats
    """(T, L): distance by which a foot misses its target [m]; 0 where reached."""
    reached: NDArray[np.bool_]
    """(T, L): True where the target was reached inside the joint limits."""
    cycle: float
    """Duration of the cycle [s]."""
    joint_names: tuple[str, ...]
    leg_names: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """Whether every foot reached every target inside the joint limits."""
        return bool(self.reached.all())
