"""Loads: what a motion asks of joints and ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.robot.tree import Floats, Packed


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PointMass:
    """A payload, stiffly fixed to the body."""

    mass: float
    """[kg]"""
    at: Floats
    """Position in the body frame, (3,) [m]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Loads(Packed):
    """Joint torques, foot forces and stability of a motion, sample by sample."""

    torque: Floats
    """(T, J): torque that each leg joint's drive applies, positive along its axis [N·m]."""
    force: Floats
    """(T, L, 3): force of the ground on each foot, body axes [N]; zero in swing."""
    margin: Floats
    """(T,): static stability margin: least distance from the centre of mass, projected along
    gravity, to the support polygon's edges; negative outside [m]."""
    com: Floats
    """(T, 3): centre of mass, payload included, body frame [m]."""
    feasible: NDArray[np.bool_]
    """(T,): True where foot forces inside the friction cones balance the robot."""
    grip: Floats
    """(T, L): tangential over normal force at each foot; 0 in swing."""
    held_torque: Floats
    """(K,): torque that holds each joint of `Robot.held` at rest on level ground [N·m]."""
    wrench: Floats
    """(T, 6): force and moment about the body's origin that the standing feet must supply."""
