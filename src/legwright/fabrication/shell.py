"""The shells of a robot, opened: surfaces in the frames of the links that carry them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from legwright.errors import RobotError, did_you_mean
from legwright.fabrication.mesh import Mesh, volume_moments
from legwright.fabrication.mesh_file import UNITS, read_mesh
from legwright.fabrication.unit_guess import UnitGuess, unit_guess
from legwright.mechanics.solids import solids_of
from legwright.robot.placement import pose_of
from legwright.robot.robot import Robot
from legwright.robot.sheet import Process, Shell


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class OpenShell:
    """One shell as it sits on its link."""

    name: str
    entry: Shell
    """What the sheet says of it."""
    link: str
    mesh: Mesh
    """In the link's frame [m], facing outward."""
    path: Path | None
    """Its file; None where it is generated."""
    unit: str
    """Unit that the file was read in."""
    odd_size: UnitGuess | None
    """What is odd about its size, if anything."""
    was_inverted: bool
    """Whether the file's surface faces inward, and was turned."""
    process: Process | None
    """How it is made."""


def open_shell(robot: Robot, name: str) -> OpenShell:
    """Read or generate one shell of a robot.

    Args:
        robot: The robot.
        name: Key of [shell].

    Returns:
        The shell.

    Raises:
        RobotError: with file, key and cure, if it cannot be had.
    """
    if name not in robot.sheet.shell:
        raise RobotError(
            robot.source, "shell", f"has no '{name}'", did_you_mean(name, robot.sheet.shell)
        )
    entry = robot.sheet.shell[name]
    link = _link(robot, name, entry)
    beside = _longest(robot, link)
    if entry.mesh is None:
        mesh, path, unit, odd = _generated(robot, name, entry), None, "m", None
    else:
        path = robot.source.parent / entry.mesh
        held = read_mesh(path)
        unit = entry.unit or held.unit or "mm"
        unit = unit if unit in UNITS else "mm"
        mesh = Mesh(points=held.mesh.points * UNITS[unit], faces=held.mesh.faces)
        odd = unit_guess(float(mesh.extent.max()), unit, beside)
    inverted = volume_moments(mesh).zeroth < 0.0
    if inverted:
        mesh = mesh.turned_out()
    placed = mesh.moved(pose_of(entry.at, entry.turn)) if entry.mesh is not None else mesh
    return OpenShell(
        name=name,
        entry=entry,
        link=link,
        mesh=placed,
        path=path,
        unit=unit,
        odd_size=odd,
        was_inverted=inverted,
        process=_process(robot, name, entry),
    )


def _link(robot: Robot, name: str, entry: Shell) -> str:
    link = entry.link or robot.body
    if link not in robot.tree.links:
        raise RobotError(
            robot.source,
            f"shell.{name}.link",
            f'names the unknown link "{link}"',
            did_you_mean(link, robot.tree.links),
        )
    return link


def _process(robot: Robot, name: str, entry: Shell) -> Process | None:
    known = robot.sheet.process
    if entry.process is None:
        return None
    if entry.process not in known:
        raise RobotError(
            robot.source,
            f"shell.{name}.process",
            f'names the unknown process "{entry.process}"',
            did_you_mean(entry.process, known) if known else "Describe it in [process.NAME].",
        )
    return known[entry.process]


def _generated(robot: Robot, name: str, entry: Shell) -> Mesh:
    if entry.generate is None:
        raise RobotError(
            robot.source,
            f"shell.{name}",
            "has neither 'mesh' nor 'generate'",
            'Name a mesh file, or write generate = "hood".',
        )
    from legwright.fabrication.hood import hood

    return hood(robot, entry, name)


def _longest(robot: Robot, link: str) -> float | None:
    """Longest edge of the box around a link's shapes [m]."""
    solids = solids_of(robot, link)
    if not solids:
        return None
    points = np.concatenate([corners for corners, _ in solids])
    return float(np.ptp(points, axis=0).max()) or None
