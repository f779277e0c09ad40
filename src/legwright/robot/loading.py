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
    source = _source(Path(path))
    if source.suffix.lower() != ".toml":
        return assemble(read_urdf(source), Sheet(), source, source, solver)
    from legwright.robot.sheet_reading import read_sheet

    sheet = read_sheet(source)
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


def _source(path: Path) -> Path:
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
