"""Shells that the sheet counts in become part of the links that carry them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from legwright.errors import RobotError, did_you_mean
from legwright.robot.sheet import Sheet, Shell
from legwright.robot.solids import merged
from legwright.robot.tree import Solid, Tree, read_only


def with_shells(tree: Tree, body: str, sheet: Sheet, source: Path) -> Tree:
    """A description with the masses of all shells that are counted.

    Args:
        tree: Links and joints.
        body: Body link: carries shells that name no other.
        sheet: The sheet.
        source: Its file, for errors.

    Returns:
        The tree itself where no shell is counted.

    Raises:
        RobotError: if a counted shell lacks mass, centre or inertia, or names no link.
    """
    counted = {name: shell for name, shell in sheet.shell.items() if shell.counted}
    if not counted:
        return tree
    links = dict(tree.links)
    for name, shell in counted.items():
        link = shell.link or body
        if link not in links:
            raise RobotError(
                source,
                f"shell.{name}.link",
                f'names the unknown link "{link}"',
                did_you_mean(link, links),
            )
        own = (np.eye(4), links[link].solid)
        links[link] = replace(
            links[link], solid=merged([own, (np.eye(4), _solid(name, shell, source))])
        )
    return replace(tree, links=MappingProxyType(links))


def _solid(name: str, shell: Shell, source: Path) -> Solid:
    for key, value in (("mass", shell.mass), ("centre", shell.centre), ("inertia", shell.inertia)):
        if value is None:
            raise RobotError(
                source,
                f"shell.{name}.{key}",
                "is missing, but the shell is counted in",
                "legwright shells prints the lines; or write counted = false.",
            )
    xx, yy, zz, xy, xz, yz = shell.inertia or (0.0,) * 6
    inertia = np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])
    if float(np.linalg.eigvalsh(inertia)[0]) < 0.0:
        raise RobotError(
            source,
            f"shell.{name}.inertia",
            "belongs to no real body: a moment about some axis is negative",
            "State xx, yy, zz, xy, xz, yz about the centre of mass.",
        )
    return Solid(
        mass=shell.mass or 0.0,
        com=read_only(shell.centre or (0.0, 0.0, 0.0)),
        inertia=read_only(inertia),
    )
