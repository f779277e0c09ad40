"""A robot folder, a sheet or a bare URDF in; a `Robot` out."""

from __future__ import annotations

from pathlib import Path

from legwright.errors import RobotError
from legwright.robot.assembly import assemble
from legwright.robot.leg import Solver
from legwright.robot.robot import Robot
from legwright.robot.sheet import Sheet
from legwright.robot.urdf import read_urdf

SHEET_NAME = "robot.toml"


def load(path: Path | str, solver: Solver) -> Robot:
    """The robot that a folder, a sheet or a bare URDF describes.

    Args:
        path: A folder with a ``robot.toml``, the sheet itself, or a ``.urdf`` file.
        solver: Chooses the kinematics of each leg.

    Returns:
        The robot, checked.

    Raises:
        RobotError: with file, place and cure, if it cannot be used.
    """
    source = source_of(Path(path))
    if source.suffix.lower() != ".toml":
        return assemble(read_urdf(source), Sheet(), source, source, solver)
    from legwright.robot.sheet_reading import read_sheet

    return build(read_sheet(source), source, solver)


def build(sheet: Sheet, source: Path, solver: Solver) -> Robot:
    """The robot of a checked sheet.

    Args:
        sheet: The sheet.
        source: Its file: paths in the sheet start from its folder.
        solver: Chooses the kinematics of each leg.

    Returns:
        The robot, checked.

    Raises:
        RobotError: with file, place and cure, if it cannot be used.
    """
    if sheet.urdf is not None:
        description = source.parent / sheet.urdf
        if not description.is_file():
            raise RobotError(
                source,
                "urdf",
                f"names '{sheet.urdf}', which is not there",
                "Put the description beside the sheet, or correct its path.",
            )
        return assemble(read_urdf(description), sheet, source, description, solver)
    from legwright.robot.generate import tree_of

    return assemble(tree_of(sheet, source), sheet, source, source, solver)


def source_of(path: Path) -> Path:
    """The sheet or URDF that a path means.

    Args:
        path: A folder, a sheet or a ``.urdf`` file.

    Returns:
        The sheet of a folder; else the path itself.

    Raises:
        RobotError: for a folder without a sheet.
    """
    try:
        if not path.is_dir():
            return path
    except (OSError, ValueError):
        return path
    sheet = path / SHEET_NAME
    if sheet.is_file():
        return sheet
    urdfs = sorted(path.glob("*.urdf"))
    raise RobotError(
        path,
        "",
        f"is a folder without {SHEET_NAME}",
        f"Name {urdfs[0].name} itself, or write a sheet around it: legwright adopt {urdfs[0].name}"
        if urdfs
        else "Name a robot folder or a .urdf file.",
    )
