"""Friction and gravity of each joint, and the smallest torque that tells ground from air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from legwright.mechanics.drive import drives_of
from legwright.mechanics.dynamics import inverse_dynamics, packed
from legwright.rig.bringup.bench import Bench
from legwright.rig.bringup.motions import sweep
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats

SWEEP = np.radians(12.0)
"""Half of the way that a joint is swept [rad]."""
SPEED = 0.3
"""Of the sweep [rad/s]; about that of a descending foot's joints."""
THRESHOLD = 4.0
"""Standard deviations of the sweep's noise that a contact must exceed; common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Identified:
    """What a sweep up and down says about one joint."""

    friction: float
    """Torque that turns it slowly, gravity left out [N·m]."""
    gravity: float
    """Mean torque that holds it in the sweep [N·m]."""
    expected: float
    """The same as the description has it [N·m]."""
    threshold: float
    """Smallest torque that stands out of the noise [N·m]."""


def identify(
    bench: Bench, robot: Robot, joint: str, node: int, direction: int, zero: float, pose: Floats
) -> Identified:
    """Sweep one joint up and down at constant speed.

    Half of the difference of the two torques is friction, their mean is gravity.

    Args:
        bench: The bench; the other joints hold their places.
        robot: The robot.
        joint: Name.
        node: Its drive.
        direction: +1 or -1.
        zero: [rad]
        pose: Joint positions of all others and this one's middle, (J,) [rad].

    Returns:
        What was found.
    """
    j = robot.joint_names.index(joint)
    gain = float(drives_of(robot).torque_constant[j])
    middle = float(pose[j])
    ends = [direction * (middle + side * SWEEP - zero) for side in (-1.0, 1.0)]
    up_angle, up = sweep(bench, node, ends[0], ends[1], SPEED)
    _, down = sweep(bench, node, ends[1], ends[0], SPEED)
    rising, falling = direction * gain * up, direction * gain * down
    rows = np.tile(pose, (len(up_angle), 1))
    rows[:, j] = direction * up_angle + zero
    return Identified(
        friction=float(0.5 * (rising.mean() - falling.mean())),
        gravity=float(0.5 * (rising.mean() + falling.mean())),
        expected=float(_held(robot, rows)[:, j].mean()),
        threshold=float(THRESHOLD * max(np.std(_level(rising)), np.std(_level(falling)))),
    )


def _held(robot: Robot, q: Floats) -> Floats:
    """Torques that hold the legs in the air, body level, (T, J) [N·m]."""
    arrays = packed(robot)
    none, rest = np.zeros_like(q), np.zeros((len(q), 6))
    down = np.tile([0.0, 0.0, -9.80665], (len(q), 1))
    found = inverse_dynamics(
        arrays, q, none, none, twist=rest, acceleration=rest, gravity=down, rotors=False
    )
    return np.asarray(found.torque)


def _level(values: Floats) -> Floats:
    """Without its straight-line trend."""
    steps = np.arange(len(values))
    slope, start = np.polyfit(steps, values, 1)
    return np.asarray(values - (slope * steps + start))
