"""The shells of a robot, opened and looked at once, and as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import isfinite
from typing import Any

from legwright.errors import RobotError
from legwright.fabrication.shell import OpenShell, open_shell
from legwright.fabrication.shell_study import PartStudy, study_part
from legwright.robot.robot import Robot
from legwright.robot.tree import Solid

QUANTILES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95)
"""Shares of the surface at which thickness is told."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class StudiedShell:
    """One shell and what was found of it."""

    shell: OpenShell
    part: PartStudy

    @property
    def worked_out(self) -> Solid | None:
        """Its mass, centre and inertia in the link's frame, as its process makes it."""
        return None if self.part.mass is None else self.part.mass.solid


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shells:
    """All shells of a robot."""

    studied: tuple[StudiedShell, ...]
    unusable: dict[str, RobotError]
    """Name -> why its file cannot be used."""


@lru_cache(maxsize=4)
def shells_of(robot: Robot) -> Shells:
    """Open and look at every shell of a robot's sheet.

    Args:
        robot: The robot.

    Returns:
        The shells; those that cannot be opened beside, each with its error.
    """
    studied, unusable = [], {}
    for name in robot.sheet.shell:
        try:
            shell = open_shell(robot, name)
        except RobotError as error:
            unusable[name] = error
            continue
        studied.append(StudiedShell(shell=shell, part=study_part(shell.mesh, shell.process)))
    return Shells(studied=tuple(studied), unusable=unusable)


def file_bytes(robot: Robot, mesh: str | None) -> bytes:
    """Content of a shell's file; empty where there is none or it cannot be read."""
    if mesh is None:
        return b""
    try:
        return (robot.source.parent / mesh).read_bytes()
    except (OSError, ValueError):
        return b""


def geometry_of(robot: Robot) -> tuple[object, ...]:
    """Where all shapes of a robot are and how they move, as plain data; no masses.

    Args:
        robot: The robot.
    """
    links = tuple(
        (name, *((s.kind.value, s.size, s.placement.tobytes(), str(s.mesh)) for s in link.shapes))
        for name, link in robot.tree.links.items()
    )
    joints = tuple(
        (
            name, j.kind.value, j.parent, j.child, j.placement.tobytes(), j.axis.tobytes(),
            j.lower, j.upper, j.mimic and (j.mimic.source, j.mimic.multiplier, j.mimic.offset),
        )
        for name, j in robot.tree.joints.items()
    )  # fmt: skip
    legs = tuple(
        (name, leg.chain.link_names, leg.lower.tobytes(), leg.upper.tobytes())
        for name, leg in robot.legs.items()
    )
    return links, joints, legs, robot.body, tuple(robot.held.items())


def shells_as_json(shells: Shells) -> dict[str, Any]:
    """All shells as JSON-ready data, SI, in the frames of their links.

    Args:
        shells: What was found.
    """
    return {
        "shells": [_shell_as_json(one) for one in shells.studied],
        "unusable": {name: str(error) for name, error in shells.unusable.items()},
    }


def _shell_as_json(one: StudiedShell) -> dict[str, Any]:
    shell, part = one.shell, one.part
    sound, walls, mass = part.soundness, part.walls, part.mass
    return {
        "name": shell.name,
        "link": shell.link,
        "file": None if shell.path is None else shell.path.name,
        "unit": shell.unit,
        "odd_size": None if shell.odd_size is None else shell.odd_size.sentence,
        "extent": [float(edge) for edge in shell.mesh.extent],
        "triangles": sound.triangles,
        "watertight": sound.watertight,
        "open_edges": sound.open_edges,
        "crowded_edges": sound.crowded_edges,
        "torn_edges": sound.torn_edges,
        "cracks": sound.cracks,
        "pieces": sound.pieces,
        "inverted_pieces": sound.inverted + int(shell.was_inverted),
        "cavities": sound.cavities,
        "through_holes": sound.through_holes,
        "surface": walls.area,
        "thickness": {f"{q:g}": _finite(walls.quantile(q)) for q in QUANTILES},
        "rays": len(walls.thickness),
        "up": [float(value) for value in part.lying.up],
        "height": part.lying.height,
        "overhang_area": part.lying.overhang,
        "support_volume": part.support,
        "room": None if part.fit is None else part.fit.room,
        "cuts": [
            {"normal": [float(v) for v in cut.normal], "offset": cut.offset, "area": cut.area}
            for cut in part.cuts
        ],
        "volume": None if mass is None else mass.volume,
        "mass": None if mass is None else mass.solid.mass,
        "centre": None if mass is None else [float(v) for v in mass.solid.com],
        "inertia": None
        if mass is None
        else [[float(value) for value in row] for row in mass.solid.inertia],
        "skin_share": None if mass is None else mass.skin_share,
        "support_mass": part.support_mass,
        "print_time": part.time,
        "counted": bool(shell.entry.counted),
    }


def _finite(value: float) -> float | None:
    return float(value) if isfinite(value) else None
