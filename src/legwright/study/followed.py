"""The motion that a controller asked for: its targets, averaged over walked cycles."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import gravity_on, quaternion, rotations
from legwright.mechanics.reach import feet_of
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.steady import Steady


def cycle_mean(values: Floats, starts: tuple[int, ...], samples: int) -> Floats:
    """Mean over cycles of what was logged, on an even grid of the cycle.

    Args:
        values: (T, N): over the cycles.
        starts: Step at which each cycle begins, and the end.
        samples: Of the grid.

    Returns:
        (samples, N)
    """
    share = np.arange(samples) / samples
    parts = [values[a:b] for a, b in pairwise(starts)]
    return np.asarray(np.mean([at_share(part, share) for part in parts], axis=0))


def at_share(cycle: Floats, share: Floats) -> Floats:
    """A closed cycle's columns, (N, J), at shares of it, (T,) -> (T, J)."""
    grid = np.arange(len(cycle) + 1) / len(cycle)
    closed = np.concatenate([cycle, cycle[:1]])
    return np.stack([np.interp(share, grid, column) for column in closed.T], axis=1)


def followed(robot: Robot, done: Steady, samples: int) -> Motion:
    """One cycle of a controller's targets as a motion, from the first leg's lift-off on.

    Accelerations of the body are left out.

    Args:
        robot: The robot.
        done: The walk.
        samples: Of the cycle.

    Returns:
        The motion; its body moves on with the mean twist, and heaves and leans as was asked.
    """
    q = cycle_mean(done.target, done.starts, samples)
    step = done.cycle / samples
    ahead, behind = np.roll(q, -1, axis=0), np.roll(q, 1, axis=0)
    twist = np.zeros((samples, 6))
    twist[:, 0], twist[:, 5] = done.reckoned[0] * bool(done.asked[0]), done.reckoned[1]
    return Motion(
        t=np.asarray(step * np.arange(samples), dtype=np.float64),
        q=q,
        qd=(ahead - behind) / (2.0 * step),
        qdd=(ahead - 2.0 * q + behind) / step**2,
        feet=feet_of(robot, q),
        contact=cycle_mean(done.stands.astype(float), done.starts, samples) > 0.5,
        body=_poses(done, samples),
        twist=twist,
        acceleration=np.zeros((samples, 6)),
        gravity=gravity_on(0.0, 0.0),
        reach_error=np.zeros((samples, len(robot.legs))),
        reached=np.ones((samples, len(robot.legs)), dtype=np.bool_),
        cycle=done.cycle,
        joint_names=robot.joint_names,
        leg_names=tuple(robot.legs),
    )


def _poses(done: Steady, samples: int) -> Floats:
    """Height and lean as asked, heading and place left out, (samples, 7)."""
    height = cycle_mean(done.pose[:, 2:3], done.starts, samples)[:, 0]
    up = cycle_mean(rotations(done.pose[:, 3:])[:, 2, :], done.starts, samples)
    poses = np.zeros((samples, 7))
    poses[:, 2] = height
    for at, (x, y, z) in enumerate(up / np.linalg.norm(up, axis=1, keepdims=True)):
        # the least turn that brings the ground's normal, seen from the body, upright
        v = np.array([[0.0, 0.0, -x], [0.0, 0.0, -y], [x, y, 0.0]])
        poses[at, 3:] = quaternion(np.eye(3) + v + v @ v / (1.0 + z))
    return poses
