"""Today's layout beside the grid: which dimensions are round, and what lies next to the others.

It costs no search; `study.rounding` looks for the layout that loses least.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.dimensions import free_dimensions, gridded
from legwright.fabrication.grids import Grid, angle_grid, length_grid
from legwright.fabrication.layout import ANGLES, KINDS, Layout, layout_of
from legwright.fabrication.moving import foot_is_mounted
from legwright.locomotion.stance import Footing
from legwright.robot.robot import Robot

SAME = 5e-6
"""Off by less is on the grid [m or rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """One dimension and the round value nearest to it."""

    key: str
    today: float
    """[m or rad]"""
    nearest: float | None
    """The grid's nearest value; None where the dimension is pinned [m or rad]."""
    grid: str
    """``5 mm``, ``15°``, ``R20``; empty where it is pinned."""

    @property
    def off(self) -> float | None:
        """From the nearest round value to today's [m or rad]."""
        return None if self.nearest is None else self.today - self.nearest


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class OnGrid:
    """Today's layout and its dimensions."""

    robot: Robot
    footing: Footing
    layout: Layout
    dimensions: tuple[Beside, ...]


def on_grid(robot: Robot, stand: Footing) -> OnGrid | None:
    """Hold today's dimensions against the grids of the sheet's [rounding].

    Args:
        robot: The robot.
        stand: Where it stands.

    Returns:
        The dimensions; None where the robot has no layout that could be rounded: other legs than
        three joints in closed form, or sides that are not mirrored.

    Raises:
        RequestError: where [rounding] names no grid or no dimension of this robot.
    """
    grids = grids_of(robot)
    pins, _ = pins_of(robot, {})
    try:
        layout = layout_of(robot, stand.q)
    except RequestError:
        return None
    free = gridded(free_dimensions(layout), grids, spread=1, pins=pins)
    found = []
    for one in free.dimensions:
        grid = grids.get(one.key) or grids.get(one.key.split(".")[0])
        nearest = one.values[int(np.argmin(np.abs(np.array(one.values) - one.today)))]
        found.append(
            Beside(
                key=one.key,
                today=one.today,
                nearest=None if one.pinned else nearest,
                grid="" if one.pinned or grid is None else grid.words,
            )
        )
    return OnGrid(robot=robot, footing=stand, layout=layout, dimensions=tuple(found))


def on_grid_as_json(found: OnGrid | None) -> list[dict[str, Any]] | None:
    """The dimensions as JSON-ready data, SI units.

    Args:
        found: The dimensions; None gives None.
    """
    if found is None:
        return None
    return [
        {"key": one.key, "today": one.today, "nearest": one.nearest, "grid": one.grid}
        for one in found.dimensions
    ]


def grids_of(robot: Robot, *, grid: str | None = None, angle: str | None = None) -> dict[str, Grid]:
    """The grid of every kind of dimension.

    Args:
        robot: Its sheet says which.
        grid: Of lengths, instead of the sheet's.
        angle: Of hip angles, likewise.

    Returns:
        Kind or key -> grid.

    Raises:
        RequestError: where a text is no grid.
    """
    stated = robot.sheet.rounding
    lengths = length_grid(grid or stated.grid, "grid" if grid else "rounding.grid")
    angles = angle_grid(angle or stated.angle, "angle" if angle else "rounding.angle")
    grids = {kind: angles if kind in ANGLES else lengths for kind in KINDS}
    for key, text in stated.grids.items():
        read = angle_grid if key.split(".")[0] in ANGLES else length_grid
        grids[key] = read(text, f"rounding.grids.{key}")
    return grids


def pins_of(
    robot: Robot, asked: Mapping[str, float | None]
) -> tuple[dict[str, float | None], tuple[str, ...]]:
    """The dimensions that stay as they are.

    Args:
        robot: Its sheet names some.
        asked: More of them, each with the value to hold, None for today's [m or rad].

    Returns:
        All pins, and what to tell about those that nobody asked for.
    """
    pins: dict[str, float | None] = dict.fromkeys(robot.sheet.rounding.pinned)
    pins |= dict(asked)
    notes = []
    if robot.sheet.dimensions is None and "tibia" not in pins:
        loose = [leg.name for leg in robot.legs.values() if not foot_is_mounted(robot, leg)]
        if loose:
            pins["tibia"] = None
            notes.append(
                f"tibia is pinned: the foot of {loose[0]} is no link on a fixed joint that could "
                "be moved."
            )
    return pins, tuple(notes)
