"""The folder of a robot with another layout: a sheet that says what differs, and a moved URDF.

From [dimensions] the new sheet states other dimensions. Around a URDF the folder holds that URDF
with moved joints. Either sheet extends the old one, so that all the rest stays in one place.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from math import degrees
from pathlib import Path

from legwright.errors import RequestError, RobotError
from legwright.fabrication.moved_urdf import moved_urdf
from legwright.fabrication.moving import dimensions_with, moved_tree, rebuilt
from legwright.mechanics.opening import load, write_variant
from legwright.robot.layout import hips_of
from legwright.robot.loading import SHEET_NAME
from legwright.robot.robot import Robot
from legwright.robot.scaffold import write_new
from legwright.robot.toml_text import tables
from legwright.robot.tree import Floats
from legwright.robot.urdf_writing import urdf_text

Values = dict[str, object]


def write_round(
    folder: Path, robot: Robot, legs: Floats, *, today: Floats, feet: Mapping[str, Floats],
    height: float, lift: float,
) -> Robot:  # fmt: skip
    """Write the folder and read it again.

    Args:
        folder: Folder to make; its last part names the robot.
        robot: The robot as it is.
        legs: (L, 7): the wanted layout, columns as `layout.KINDS` [m, rad].
        today: (L, 7): the layout as it is.
        feet: Leg -> standing foot of the new layout in the body frame [m]; stated in the sheet
            where the old one leaves the stance to the program.
        height: Body frame over the ground [m]; likewise.
        lift: Height of a swing's top [m]; likewise.

    Returns:
        The new robot, as `legwright check` will read it.

    Raises:
        RobotError: if the folder holds a robot already or cannot be written.
    """
    folder = Path(folder)
    if (folder / SHEET_NAME).exists():
        raise RobotError(
            folder / SHEET_NAME, "", "exists already, and nothing is overwritten",
            "Choose another folder.",
        )  # fmt: skip
    stance = _stance(robot, feet, height, lift)
    shape = robot.sheet.dimensions
    if shape is not None and shape.ring is None:
        write_variant(folder, robot, {**dimension_words(robot, legs), **stance})
        return load(folder)
    text = _urdf(robot, legs, today, folder)
    name = f"{robot.tree.name or folder.name}.urdf".replace("/", "-")
    write_new(folder / name, text)
    write_new(folder / SHEET_NAME, _sheet(robot, folder, name, stance))
    return load(folder)


def dimension_words(robot: Robot, legs: Floats) -> Values:
    """Keys and values of a sheet's [dimensions] with another layout.

    Args:
        robot: A robot that has such a table, without a ring.
        legs: (L, 7) [m, rad].
    """
    shape, old = dimensions_with(robot, legs), robot.sheet.dimensions
    if old is None:
        raise RequestError("robot", robot.name, "one with a [dimensions] table")
    left = sum(hip.side > 0 for hip in hips_of(old))
    hips = [[_mm(x), _mm(y), _deg(yaw)] for x, y, yaw in shape.hips[:left]]
    words: Values = {"dimensions.hips": hips}
    for name in ("hip_height", "coxa", "femur", "tibia"):
        if abs(getattr(shape, name) - getattr(old, name)) > 1e-9:
            words[f"dimensions.{name}"] = _mm(getattr(shape, name))
    return words


def _mm(value: float) -> str:
    return f"{round(1e3 * value, 6):.9g} mm"


def _deg(value: float) -> str:
    return f"{round(degrees(value), 6):.9g} deg"


def _stance(robot: Robot, feet: Mapping[str, Floats], height: float, lift: float) -> Values:
    """The stance, where the old sheet leaves it to the program."""
    stated = robot.sheet.stance
    words: Values = {}
    if stated.lift is None:
        words["stance.lift"] = f"{1e3 * lift:.6g} mm"
    if stated.body_height is not None and stated.foot_distance is not None:
        return words
    words["stance.body_height"] = f"{1e3 * height:.6g} mm"
    words["stance.foot_distance"] = stated_distance(robot, feet)
    for name, foot in feet.items():
        words[f'stance.feet."{name}"' if "." in name else f"stance.feet.{name}"] = [
            f"{1e3 * float(foot[0]):.6g} mm",
            f"{1e3 * float(foot[1]):.6g} mm",
        ]
    return words


def stated_distance(robot: Robot, feet: Mapping[str, Floats]) -> str:
    """A foot distance for the sheet; each foot's own place goes before it."""
    away = [
        float(((feet[leg.name][:2] - leg.hip[:2]) ** 2).sum()) ** 0.5 for leg in robot.legs.values()
    ]
    return f"{1e3 * sum(away) / len(away):.4g} mm"


def _urdf(robot: Robot, legs: Floats, today: Floats, folder: Path) -> str:
    if robot.sheet.dimensions is not None:
        return urdf_text(rebuilt(robot, legs, today).tree)
    stated = robot.sheet.urdf
    description = robot.source if stated is None else robot.source.parent / stated
    return moved_urdf(description, robot.tree, moved_tree(robot, legs, today), folder)


def _sheet(robot: Robot, folder: Path, urdf: str, stance: Values) -> str:
    """The sheet beside a moved URDF."""
    is_sheet = robot.source.suffix.lower() == ".toml"
    entries: list[tuple[tuple[str, ...], object]] = []
    if is_sheet:
        base = Path(os.path.relpath(robot.source.resolve(), folder.resolve())).as_posix()
        entries.append((("extends",), base))
    entries += [(("urdf",), urdf), (("name",), folder.name)]
    for key, value in stance.items():
        parts = key.split(".", 2) if key.startswith("stance.feet.") else key.split(".")
        entries.append((tuple(part.strip('"') for part in parts), value))
    about = f"# {robot.name} with round dimensions: the joints of {urdf} are moved.\n\n"
    return about + tables(entries)
