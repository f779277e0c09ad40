"""Strain: loads of legs that give, on feet that stay where they touched.

`loads` shares the weight out with the least foot forces. Real feet do not choose: they stand
where they touched, so that whatever legs give and wherever feet roll strains the legs against
each other. Given what gives, this follows a cycle until it repeats.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from legwright.errors import RequestError
from legwright.mechanics import _lag as k
from legwright.mechanics._strain import march
from legwright.mechanics.dynamics import Dynamics, inverse_dynamics, packed, with_payload
from legwright.mechanics.loading import PointMass
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import rotations
from legwright.mechanics.screws import screws_of
from legwright.robot.leg import Leg
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

ROUNDS = 4
"""Cycles that are followed."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Give:
    """How far drives and feet give under load; J joints."""

    servo: Floats
    """(J,): pull of the position loop per position error [N·m/rad]."""
    friction: Floats
    """(J,): torque that turns the unloaded gear [N·m]."""
    driving_loss: Floats
    """(J,): friction per torque while the motor drives."""
    backdrive_loss: Floats
    """(J,): the same while the load drives; less than 1."""
    gear: Floats
    """(J,): stiffness of gear and horn [N·m/rad]."""
    play: Floats
    """(J,): half of the backlash [rad]."""
    foot: float
    """Stiffness of a foot on the ground [N/m]."""
    creep: float = 0.0
    """How fast a foot creeps that pushes aside, per force [m/(N·s)]."""

    def __post_init__(self) -> None:
        """Refuse what no leg is made of."""
        for name in ("servo", "gear", "foot"):
            value = np.asarray(getattr(self, name))
            if not (np.isfinite(value).all() and (value > 0.0).all()):
                raise RequestError(f"give.{name}", value, "finite and more than 0")
        for name in ("friction", "driving_loss", "backdrive_loss", "play", "creep"):
            value = np.asarray(getattr(self, name))
            if not (np.isfinite(value).all() and (value >= 0.0).all()):
                raise RequestError(f"give.{name}", value, "finite and at least 0")
        if (np.asarray(self.backdrive_loss) >= 1.0).any():
            raise RequestError("give.backdrive_loss", self.backdrive_loss, "less than 1")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Strained:
    """One cycle, after it has come to repeat itself."""

    torque: Floats
    """(T, J): that each drive applies to its joint [N·m]."""
    force: Floats
    """(T, L, 3): of the ground on each foot, body axes [N]."""
    pull: Floats
    """(T, J): torque of each motor before friction, which its winding current makes [N·m]."""
    change: float
    """Root mean square change of the torques from the cycle before [N·m]."""
    lost: int
    """Samples in which no balance was found; their numbers are the nearest that was."""


def strained(
    robot: Robot, motion: Motion, give: Give, *, friction: float, payload: PointMass | None = None,
    rounds: int = ROUNDS,
) -> Strained:  # fmt: skip
    """Torques and foot forces of a closed cycle with sticking, rolling feet.

    A foot touches when it meets the ground, not when it was planned to, keeps the point that
    it touched, rolls on its radius while the last link turns, creeps under sideways force, and
    slides where it pushes more than friction holds. Gear friction is that of a turning servo;
    what friction at rest adds, and all dynamics beyond the planned accelerations, are left out.

    Args:
        robot: The robot.
        motion: One closed cycle; feet that stand are planned to keep their place.
        give: What gives.
        friction: Coefficient at every foot.
        payload: Fixed to the body.
        rounds: Cycles that are followed.

    Returns:
        The last cycle.

    Source: direct stiffness method, textbook; friction as the play operator of Prandtl,
        textbook; the combination is our own.
    """
    if rounds < 1:
        raise RequestError("rounds", rounds, "1 or more")
    turned = rotations(motion.body[:, 3:])  # rows: ground axes in body axes
    arrays = with_payload(packed(robot), payload)
    needed = inverse_dynamics(
        arrays, motion.q, motion.qd, motion.qdd, twist=motion.twist,
        acceleration=motion.acceleration, gravity=np.asarray(motion.gravity) @ turned,
    )  # fmt: skip
    normals = np.ascontiguousarray(turned[:, 2, :])
    radii = np.array([leg.chain.foot_radius for leg in robot.legs.values()])
    offset = -radii[:, None] * normals[:, None, :]
    axes = np.concatenate([_axes(robot, name, leg, motion) for name, leg in robot.legs.items()], 2)
    legs = np.repeat(np.arange(len(radii)), np.diff(arrays.column))
    arms = np.cross(axes.transpose(0, 2, 1), offset[:, legs]).transpose(0, 2, 1)
    torque, force = np.zeros_like(motion.q), np.zeros_like(needed.feet)
    pull = np.zeros_like(motion.q)
    change, lost = march(
        _table(give), needed.torque, needed.wrench, needed.feet + offset,
        _heights(motion, needed, turned), normals,
        np.ascontiguousarray(needed.jacobian + arms), arrays.column,
        np.ascontiguousarray(motion.q), _turns(motion), _rolls(motion, axes, legs, offset),
        1.0 / give.foot, give.creep * motion.cycle / len(motion.t), friction, rounds,
        torque, force, pull,
    )  # fmt: skip
    return Strained(torque=torque, force=force, pull=pull, change=float(change), lost=int(lost))


def _table(give: Give) -> Floats:
    table = np.empty((k.GIVES, len(give.servo)))
    table[k.SERVO], table[k.COULOMB] = give.servo, give.friction
    table[k.DRIVING], table[k.BACKDRIVE] = give.driving_loss, give.backdrive_loss
    table[k.GEAR], table[k.PLAY] = give.gear, give.play
    return table


def _heights(motion: Motion, needed: Dynamics, turned: Floats) -> Floats:
    """Of the planned feet over the ground plane, (T, L) [m]."""
    return np.asarray(np.einsum("ti,tli->tl", turned[:, 2], needed.feet) + motion.body[:, 2, None])


def _axes(robot: Robot, name: str, leg: Leg, motion: Motion) -> Floats:
    """How the last link of a leg turns per drive, body axes, (T, 3, n).

    Source: product of exponentials, Lynch & Park, Modern Robotics (2017), sec. 4.1.
    """
    screws = screws_of(leg.chain)
    moving = motion.q[:, robot.columns[name]] @ screws.coupling.T + screws.offset
    before = np.broadcast_to(np.eye(3), (len(moving), 3, 3))
    columns = np.zeros((len(moving), 3, screws.coupling.shape[0]))
    for index, axis in enumerate(screws.axis):
        if screws.slides[index]:
            continue
        columns[:, :, index] = before @ axis
        before = before @ _spun(axis, moving[:, index])
    return np.asarray(columns @ screws.coupling)


def _spun(axis: Floats, angle: Floats) -> Floats:
    """Rotations about an axis, (T, 3, 3); Rodrigues' formula."""
    x, y, z = axis
    K = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    s, c = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    return np.asarray(np.eye(3) + s * K + (1.0 - c) * (K @ K))


def _turns(motion: Motion) -> Floats:
    """How a direction fixed in the ground turns in body axes per sample, (T, 3, 3)."""
    step = motion.cycle / len(motion.t)
    out = np.empty((len(motion.t), 3, 3))
    for t, spin in enumerate(motion.twist[:, 3:]):
        size = float(np.linalg.norm(spin))
        axis = spin / size if size > 0.0 else np.array([0.0, 0.0, 1.0])
        out[t] = _spun(axis, np.array([-size * step]))[0]
    return out


def _rolls(motion: Motion, axes: Floats, legs: NDArray[np.int64], offset: Floats) -> Floats:
    """Way that each foot's centre rolls per sample, (T, L, 3) [m]."""
    step = motion.cycle / len(motion.t)
    count = offset.shape[1]
    spin = np.zeros((len(motion.t), count, 3))
    for leg in range(count):
        own = legs == leg
        spin[:, leg] = np.einsum("tij,tj->ti", axes[:, :, own], motion.qd[:, own])
    spin += motion.twist[:, None, 3:]
    return np.ascontiguousarray(np.cross(spin, -offset) * step)
