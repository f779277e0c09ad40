"""All parts that are made from sheet: plates and brackets of a robot, and their files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.angle_brackets import Angles, angle_brackets_of
from legwright.fabrication.bracket import Bracket
from legwright.fabrication.drilling import drilling_csv
from legwright.fabrication.dxf import dxf_text
from legwright.fabrication.foot_part import Foot, foot_of
from legwright.fabrication.hip_bracket import HipBracket, hip_bracket_of
from legwright.fabrication.meshing import angle_mesh, bracket_mesh, plate_mesh
from legwright.fabrication.plate import Plate
from legwright.fabrication.plate_layout import Plates, plates_of
from legwright.fabrication.step import angle_step, bracket_step, kernel_installed, plate_step
from legwright.fabrication.stl import stl_bytes
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MadePart:
    """One kind of part, as a bill of materials needs it."""

    name: str
    kind: str
    """``plate``, ``folded`` (the hip bracket) or ``angle``"""
    count: int
    """Of one robot."""
    material: str
    thickness: float
    """[m]"""
    mass: float
    """Of one [kg]."""
    com: Floats
    """(3,): of a plate in the body frame, of a folded part in its own [m]."""
    blank: tuple[float, float]
    """Length and width of the sheet it is cut from [m]."""
    cut_length: float
    """[m]"""
    openings: int
    bends: int


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Parts:
    """What a robot's sheet metal and plates are, or what is missing for them."""

    robot: Robot
    plates: Plates
    hip: HipBracket
    angles: Angles
    foot: Foot

    @property
    def flat(self) -> tuple[Plate, ...]:
        """Everything that is cut: plates, and the flat patterns of brackets."""
        bracket = self.hip.bracket
        hip = () if bracket is None else (bracket.flat,)
        return (*self.plates.plates, *hip, *(each.flat for each in self.angles.brackets))

    @property
    def made(self) -> tuple[MadePart, ...]:
        """One entry for each kind of part."""
        found = [_of_plate(plate) for plate in self.plates.plates]
        if self.hip.bracket is not None:
            found.append(_of_bracket(self.hip.bracket, "folded", bends=2))
        found += [_of_bracket(each, "angle", bends=1) for each in self.angles.brackets]
        return tuple(found)

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys of the sheet to fill in."""
        angles = (key for keys in self.angles.missing.values() for key in keys)
        return tuple(dict.fromkeys((*self.plates.missing, *self.hip.missing, *angles)))


@lru_cache(maxsize=8)
def parts_of(robot: Robot) -> Parts:
    """Plates and brackets of a robot.

    Args:
        robot: The robot.
    """
    return Parts(
        robot=robot, plates=plates_of(robot), hip=hip_bracket_of(robot),
        angles=angle_brackets_of(robot), foot=foot_of(robot),
    )  # fmt: skip


def part_files(parts: Parts) -> Mapping[str, bytes]:
    """The files from which the parts are made: DXF, STL, STEP where a kernel is installed, CSV.

    Args:
        parts: The parts.

    Returns:
        File name -> content. ``NAME.dxf`` is the part as drawn, ``NAME-cut.dxf`` the beam's
        paths where the sheet states a kerf.

    Raises:
        RequestError: where a part is too fine for the beam.
    """
    files: dict[str, bytes] = {}
    kerf = parts.robot.sheet.making.kerf or 0.0
    bracket = parts.hip.bracket
    lines = {each.flat.name: each.bend_lines for each in parts.angles.brackets}
    if bracket is not None:
        lines[bracket.flat.name] = bracket.bend_lines
    for plate in parts.flat:
        bends = lines.get(plate.name, ())
        files[f"{plate.name}.dxf"] = dxf_text(plate, bends=bends).encode("utf-8")
        if kerf > 0.0:
            cut = dxf_text(plate, kerf=kerf, bends=bends)
            files[f"{plate.name}-cut.dxf"] = cut.encode("utf-8")
    for plate in parts.plates.plates:
        files[f"{plate.name}.stl"] = stl_bytes(plate_mesh(plate))
        if kernel_installed():
            files[f"{plate.name}.step"] = plate_step(plate)
    if bracket is not None:
        files[f"{bracket.name}.stl"] = stl_bytes(bracket_mesh(bracket))
        if kernel_installed():
            files[f"{bracket.name}.step"] = bracket_step(bracket)
    for angle in parts.angles.brackets:
        files[f"{angle.name}.stl"] = stl_bytes(angle_mesh(angle))
        if kernel_installed():
            files[f"{angle.name}.step"] = angle_step(angle)
    if parts.foot.part is not None:
        files |= {f"{name}.stl": stl_bytes(mesh) for name, mesh in parts.foot.part.meshes.items()}
    if parts.flat:
        files["drilling.csv"] = drilling_csv(parts.flat).encode("utf-8")
    return files


def _of_plate(plate: Plate) -> MadePart:
    left, bottom, right, top = plate.box
    return MadePart(
        name=plate.name, kind="plate", count=plate.count, material=plate.material,
        thickness=plate.thickness, mass=plate.mass, com=np.array([*plate.com, plate.height]),
        blank=(right - left, top - bottom), cut_length=plate.cut_length,
        openings=len(plate.openings), bends=0,
    )  # fmt: skip


def _of_bracket(bracket: Bracket | AngleBracket, kind: str, *, bends: int) -> MadePart:
    left, bottom, right, top = bracket.flat.box
    return MadePart(
        name=bracket.name, kind=kind, count=bracket.count, material=bracket.material,
        thickness=bracket.thickness, mass=bracket.mass, com=bracket.com,
        blank=(right - left, top - bottom), cut_length=bracket.flat.cut_length,
        openings=len(bracket.flat.openings), bends=bends,
    )  # fmt: skip
