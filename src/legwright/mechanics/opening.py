"""From a path to a robot whose legs can answer."""

from __future__ import annotations

from pathlib import Path

from legwright.mechanics.kinematics import kinematics_of
from legwright.robot.loading import load as read
from legwright.robot.robot import Robot


def load(path: Path | str) -> Robot:
    """The robot that a folder, a sheet or a bare URDF describes.

    Args:
        path: A folder with a ``robot.toml``, the sheet itself, or a ``.urdf`` file.

    Returns:
        The robot, its legs ready to answer where their feet are and what they reach.

    Raises:
        RobotError: with file, place and cure, if it cannot be used.
    """
    return read(path, solver=kinematics_of)
