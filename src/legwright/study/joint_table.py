"""The table of joints: the hardest that each one is used over everything that was walked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.evidence import Case


@dataclass(frozen=True, slots=True, kw_only=True)
class JointUse:
    """One leg joint over all cases; nan where a servo's data do not say."""

    joint: str
    servo: str
    torque: float
    """Largest torque [N·m]."""
    rms_torque: float
    """Largest root mean square torque over a cycle [N·m]."""
    speed: float
    """Largest speed [rad/s]."""
    headroom: float
    """Least available over needed torque, at the speed of that instant."""
    winding: float
    """Hottest steady winding temperature [K]."""
    time_to_limit: float
    """Shortest time to the highest winding temperature [s]; inf: never."""


def joint_table(robot: Robot, cases: Mapping[str, Case]) -> tuple[JointUse, ...]:
    """How hard each leg joint is used.

    Args:
        robot: The robot.
        cases: What was walked.

    Returns:
        One row a joint, in the order of `Robot.joint_names`; empty when nothing was walked.
    """
    if not cases:
        return ()
    walked = list(cases.values())

    def most(rows: list[Floats]) -> Floats:
        return np.asarray(np.max(rows, axis=0))

    torque = most([np.abs(case.draw.torque).max(axis=0) for case in walked])
    rms = most([case.draw.rms_torque for case in walked])
    speed = most([np.abs(case.motion.qd).max(axis=0) for case in walked])
    headroom = -most([-case.draw.headroom.min(axis=0) for case in walked])
    winding = most([case.draw.steady_temperature for case in walked])
    time = -most([-case.draw.time_to_limit for case in walked])
    rows = []
    for column, joint in enumerate(robot.joint_names):
        servo = robot.servos.get(joint)
        rows.append(
            JointUse(
                joint=joint,
                servo="" if servo is None else servo.id,
                torque=float(torque[column]),
                rms_torque=float(rms[column]),
                speed=float(speed[column]),
                headroom=float(headroom[column]),
                winding=float(winding[column]),
                time_to_limit=float(time[column]),
            )
        )
    return tuple(rows)
