"""What bring-up leaves behind: the calibration."""

from __future__ import annotations

from legwright.rig.bringup.progress import Progress
from legwright.rig.calibration import Calibration, JointCalibration
from legwright.robot.robot import Robot

NEEDED = ("match", "direction", "zero")
"""Steps without which no joint can be moved safely."""


def calibration_from(robot: Robot, progress: Progress) -> Calibration | None:
    """The calibration that the records make.

    Args:
        robot: The robot.
        progress: What has been measured.

    Returns:
        Nodes, directions, zeros, and frictions and thresholds where they were identified; None
        while a needed step is not in order.
    """
    if not all(progress.done(step) for step in NEEDED):
        return None
    nodes, ways = progress.value("match", "node"), progress.value("direction", "direction")
    zeros, friction, threshold = progress.value("zero", "zero"), {}, {}
    if progress.done("identify"):
        friction = progress.value("identify", "friction")
        threshold = progress.value("identify", "threshold")
    newest = progress.records["zero"]
    return Calibration(
        robot=robot.name,
        made=newest.when,
        made_with=newest.version,
        joints={
            name: JointCalibration(
                node=int(nodes[name]),
                direction=int(ways[name]),
                zero=float(zeros[name]),
                friction=friction.get(name),
                threshold=threshold.get(name),
            )
            for name in robot.joint_names
        },
    )
