"""From a path to a robot whose legs can answer."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from legwright.mechanics.kinematics import kinematics_of
from legwright.robot import editing
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


def edited(base: editing.Base, overrides: Mapping[str, object]) -> Robot:
    """The robot that a sheet describes with some of its values replaced, in memory only.

    Args:
        base: Folder, sheet, bare URDF, a sheet's content read once with
            `legwright.robot.editing.opened`, or a robot; of a robot the files are read again and
            earlier edits stay.
        overrides: Dotted key -> new value: ``{"dimensions.femur": "90 mm"}``.

    Returns:
        The robot; its `edits` hold the overrides.

    Raises:
        RequestError: for a key that cannot be read.
        RobotError: with file, key, value and cure, as if the values stood in the file.
    """
    return editing.edited(base, overrides, kinematics_of)


def write_variant(folder: Path | str, base: editing.Base, overrides: Mapping[str, object]) -> Path:
    """Keep an edited robot as a new folder whose sheet extends the base's.

    Args:
        folder: Folder to make; its last part names the robot unless `overrides` do.
        base: What was edited; its files stay as they are.
        overrides: Dotted key -> new value. Only what differs from the base is written.

    Returns:
        The new sheet.

    Raises:
        RequestError: for a key that cannot be read.
        RobotError: if the values make no robot, the folder holds a sheet already, or it cannot
            be written.
    """
    return editing.write_variant(folder, base, overrides, kinematics_of)
