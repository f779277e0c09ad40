"""What is really so in the physics world: the referee of everything that is felt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from legwright.kernel import kernel
from legwright.robot.tree import Floats

if TYPE_CHECKING:
    import mujoco


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Truth:
    """State of the world after a bus cycle; world axes unless said otherwise."""

    time: float
    """[s]"""
    body: Floats
    """(7,): body frame: x, y, z [m], quaternion w, x, y, z."""
    twist: Floats
    """(6,): velocity of the body frame's origin, angular velocity; body axes [m/s, rad/s]."""
    q: Floats
    """(J,): joint positions of the links [rad]."""
    qd: Floats
    """(J,) [rad/s]"""
    feet: Floats
    """(L, 3): centres of the feet [m]."""
    force: Floats
    """(L, 3): force of the ground on each foot at the last physics step [N]."""
    peak: Floats
    """(L,): largest normal force within the cycle [N]."""
    others: float
    """Normal force on all that is no foot, summed: belly, shank [N]."""
    torque: Floats
    """(J,): torque that arrives at the links [N·m]."""
    current: Floats
    """(J,): winding currents [A]."""
    supply: Floats
    """(J,): supply currents [A]."""
    voltage: Floats
    """(J,): at the servos [V]."""
    winding: Floats
    """(J,): temperatures [K]."""
    terminal: float
    """Voltage of the source's terminals [V]."""
    total: float
    """Current of the source [A]."""
    energy: float
    """Drawn from the source since the start [J]."""


def foot_forces(
    model: mujoco.MjModel, data: mujoco.MjData, feet: NDArray[np.int64]
) -> tuple[Floats, float]:
    """Force of the ground on each foot, and the normal force on everything else.

    Args:
        model: The engine's model.
        data: Its state.
        feet: Geoms of the feet, (L,).

    Returns:
        (L, 3) in world axes [N], and one number [N].
    """
    force = np.zeros((len(feet), 3))
    if data.ncon == 0:
        return force, 0.0
    contact = data.contact
    others = _sum(
        np.asarray(contact.geom, dtype=np.int64),
        np.asarray(contact.frame, dtype=np.float64).reshape(-1, 9),
        np.asarray(contact.efc_address, dtype=np.int64).ravel(),
        data.efc_force,
        feet,
        force,
    )
    return force, float(others)


@kernel
def _sum(geom, frame, address, efc, feet, force):  # type: ignore[no-untyped-def]
    """Sum contact forces by foot; contact frames have the normal first, from geom 0 to 1."""
    others = 0.0
    for n in range(geom.shape[0]):
        at = address[n]
        if at < 0:
            continue
        foot, sign = -1, 1.0
        for f in range(feet.shape[0]):
            if geom[n, 1] == feet[f]:
                foot = f
            elif geom[n, 0] == feet[f]:
                foot, sign = f, -1.0
        if foot < 0:
            others += efc[at]
            continue
        for axis in range(3):
            total = 0.0
            for row in range(3):
                total += frame[n, 3 * row + axis] * efc[at + row]
            force[foot, axis] += sign * total
    return others
