"""A robot folder that stands alone: no `extends`, every file that it reads beside it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from legwright.robot.editing import opened
from legwright.robot.loading import SHEET_NAME
from legwright.robot.robot import Robot
from legwright.robot.toml_text import tables


def write_whole(robot: Robot, folder: Path) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Copy a robot into a folder of its own.

    Args:
        robot: As it was loaded; edits made in memory are not among it.
        folder: Where to; made when missing.

    Returns:
        The files, and a sentence for each that could not be brought along.

    Raises:
        OSError: where it cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    text = opened(robot.source)
    if robot.source.suffix.lower() != ".toml":
        copy = folder / robot.source.name
        shutil.copyfile(robot.source, copy)
        meshes, lost = _meshes(robot, robot.source.parent, folder)
        return (copy, *meshes), lost
    table = dict(text.table)
    home = robot.source.parent
    written = []
    if isinstance(table.get("urdf"), str):
        shape = home / table["urdf"]
        table["urdf"] = shape.name
        shutil.copyfile(shape, folder / shape.name)
        written.append(folder / shape.name)
        home = shape.parent
    sheet = folder / SHEET_NAME
    about = "# The whole sheet, bases included; made for the build book.\n\n"
    sheet.write_text(about + tables(_leaves(table, ())), encoding="utf-8")
    meshes, lost = _meshes(robot, home, folder)
    return (sheet, *written, *meshes), lost


def _meshes(robot: Robot, home: Path, folder: Path) -> tuple[list[Path], tuple[str, ...]]:
    """Meshes below the description's folder keep their place."""
    used = {
        shape.mesh
        for link in robot.tree.links.values()
        for shape in (*link.collision, *link.visual)
        if shape.mesh is not None
    }
    written, lost = [], []
    for mesh in sorted(used):
        if not mesh.is_file():
            lost.append(f"{mesh.name}: the mesh is not there, so it is not in the build book.")
            continue
        if not mesh.resolve().is_relative_to(home.resolve()):
            lost.append(f"{mesh.name}: lies outside the robot's folder and was left there.")
            continue
        copy = folder / mesh.resolve().relative_to(home.resolve())
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(mesh, copy)
        written.append(copy)
    return written, tuple(lost)


def _leaves(
    table: Mapping[str, Any], at: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], object]]:
    """Values with their paths; a table's own values before its tables."""
    plain = {name: value for name, value in table.items() if not isinstance(value, Mapping)}
    for name, value in plain.items():
        yield (*at, name), value
    for name, value in table.items():
        if isinstance(value, Mapping):
            yield from _leaves(value, (*at, name))
