"""A robot folder, a sheet or a bare URDF in; a `Robot` out."""

from __future__ import annotations

import fnmatch
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np

from legwright.errors import RobotError
from legwright.robot.assembly import chain_of, positions_held, trunk_of
from legwright.robot.leg import Leg, Solver
from legwright.robot.leg_names import ordered_names
from legwright.robot.legs import find_legs
from legwright.robot.robot import Robot
from legwright.robot.servo import Servo, from_urdf
from legwright.robot.sheet import Sheet
from legwright.robot.tree import Tree
from legwright.robot.urdf import notes_on, read_urdf

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
        tree = read_urdf(source)
        return assemble(tree, Sheet(), source, source, solver)
    from legwright.robot.sheet_reading import read_sheet

    sheet = read_sheet(source)
    if sheet.urdf is not None:
        description = source.parent / sheet.urdf
        return assemble(read_urdf(description), sheet, source, description, solver)
    from legwright.robot.generate import tree_of

    return assemble(tree_of(sheet, source), sheet, source, source, solver)


def _source(path: Path) -> Path:
    try:
        folder = path.is_dir()
    except (OSError, ValueError):
        folder = False
    if not folder:
        return path
    sheet = path / SHEET_NAME
    if sheet.is_file():
        return sheet
    urdfs = sorted(path.glob("*.urdf"))
    if len(urdfs) == 1:
        return urdfs[0]
    raise RobotError(
        path,
        "",
        f"is a folder without {SHEET_NAME}",
        f"Name a .urdf file, or write a sheet: legwright adopt {urdfs[0].name}"
        if urdfs
        else "Name a robot folder or a .urdf file.",
    )


def assemble(tree: Tree, sheet: Sheet, source: Path, description: Path, solver: Solver) -> Robot:
    """The robot that a tree and a sheet make.

    Args:
        tree: Links and joints.
        sheet: The build sheet; all defaults when there is none.
        source: The file that was asked for.
        description: The file that holds the links and joints, for errors.
        solver: Chooses the kinematics of each leg.

    Returns:
        The robot.

    Raises:
        RobotError: if tree and sheet make no walking robot.
    """
    found = find_legs(tree, description)
    body = sheet.body or found.body
    held = positions_held(tree, found.limbs, sheet.held)
    chains = [chain_of(tree, body, limb, held, description) for limb in found.limbs]
    places = np.array([chain.placements[0, :2, 3] for chain in chains])
    legs = {
        name: Leg(name=name, chain=chains[index], kinematics=solver(chains[index]))
        for index, name in ordered_names(places)
    }
    driven = {name: at for name, at in held.items() if tree.joints[name].actuated}
    names = [name for leg in legs.values() for name in leg.joint_names] + list(driven)
    return Robot(
        name=sheet.name or tree.name,
        source=source,
        tree=tree,
        body=body,
        legs=MappingProxyType(legs),
        trunk=trunk_of(tree, body, found.limbs, held),
        held=MappingProxyType(driven),
        servos=MappingProxyType(servos_of(names, tree, sheet)),
        sheet=sheet,
        notes=(*found.notes, *notes_on(tree)),
    )


def servos_of(names: Iterable[str], tree: Tree, sheet: Sheet) -> dict[str, Servo | None]:
    """The servo of each driven joint: the sheet's, else what the URDF's limits imply."""
    return {name: _servo(name, tree, sheet.fit, sheet.servo) for name in names}


def _servo(
    name: str, tree: Tree, fit: Mapping[str, str], models: Mapping[str, Servo]
) -> Servo | None:
    patterns = [pattern for pattern in fit if fnmatch.fnmatchcase(name, pattern)]
    if patterns:
        return models[fit[max(patterns, key=lambda pattern: (pattern == name, len(pattern)))]]
    joint = tree.joints[name]
    if joint.effort and joint.velocity:
        return from_urdf(joint.effort, joint.velocity)
    return None
