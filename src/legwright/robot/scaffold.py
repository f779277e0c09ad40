"""New robot folders: a walker with N legs, or a sheet around somebody else's URDF.

The texts are made by pure functions; two thin ones write them and never overwrite a file.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from math import cos, pi, sin
from pathlib import Path

from legwright.errors import RequestError, RobotError
from legwright.robot.scaffold_text import ADOPTED, LEG_SERVO, WALKER
from legwright.robot.toml_text import key, quoted
from legwright.robot.tree import Tree

FEWEST_LEGS, MOST_LEGS = 3, 20
SWING = 0.36
"""Time to swing one leg forward in the slowest gait, one leg at a time [s]."""
STRIDE = 0.05
"""Way of the body while a foot stands [m]."""
PATTERN = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,39}")


def new_robot(folder: Path, *, legs: int = 6) -> Path:
    """Write the folder of a new walker.

    Args:
        folder: Folder to make; its last part is the robot's name.
        legs: Number of legs, 3 to 20.

    Returns:
        The folder.

    Raises:
        RequestError: for an unusable name or number of legs.
        RobotError: if the folder holds a sheet already or cannot be written.
    """
    folder = Path(folder)
    write_new(folder / "robot.toml", new_sheet(folder.name, legs=legs))
    return folder


def new_sheet(name: str, *, legs: int = 6) -> str:
    """The commented sheet of a new walker with N legs.

    Args:
        name: Name of the robot: a letter, then letters, digits, ``-`` or ``_``.
        legs: Number of legs, 3 to 20.

    Returns:
        The text of a ``robot.toml``.

    Raises:
        RequestError: for an unusable name or number of legs.
    """
    if not PATTERN.fullmatch(name):
        allowed = "a letter followed by at most 39 letters, digits, '-' or '_'"
        raise RequestError("name", name, allowed)
    if isinstance(legs, bool) or not isinstance(legs, int) or not FEWEST_LEGS <= legs <= MOST_LEGS:
        raise RequestError("legs", legs, f"a whole number from {FEWEST_LEGS} to {MOST_LEGS}")
    even = legs % 2 == 0 and legs >= 4
    lifted = 1.0 / (3.0 * legs) if legs == 4 else 1.0 / legs
    cycle = round(SWING / lifted, 1)
    return WALKER.format(
        name=name,
        legs=legs,
        speed=STRIDE / ((1.0 - lifted) * cycle),
        cycle=cycle,
        gaits='["tripod", "ripple", "wave"]' if legs == 6 else '["wave"]',
        layout=_rows(legs // 2) if even else _ring(legs),
        coxa_travel=_coxa_travel(legs, even=even),
        length=round(_plate_length(legs)) if even else round(1.9 * _ring_radius(legs)),
        width=160 if even else round(1.9 * _ring_radius(legs)),
        filled=f"{_filled(legs, even=even):.2f}",
        servo=LEG_SERVO,
        outline="lugs" if even else "hull",
        standoffs=_standoffs(legs, even=even),
        windows=_windows(legs, even=even),
    )


def _standoffs(legs: int, *, even: bool) -> str:
    """Where spacers hold the plates apart: midway between hips, inside their servos [mm]."""
    if even:
        x, y = (0.0 if legs == 4 else 0.5 - 0.5 / (legs // 2 - 1)) * _plate_length(legs), 55.0
        spots = [(x, y), (-x, y), (-x, -y), (x, -y)]
        if legs == 4:
            spots = [(0.0, y), (0.0, -y)]
    else:
        radius, step = 0.75 * _ring_radius(legs), 2.0 * pi / legs
        turns = [(number + 0.5) * step for number in range(legs)]
        spots = [(radius * cos(turn), radius * sin(turn)) for turn in turns]
    return "[" + ", ".join(f'["{x:.0f} mm", "{y:.0f} mm"]' for x, y in spots) + "]"


def _filled(legs: int, *, even: bool) -> float:
    """Share of the plates' box that outline, cut-outs and windows leave; a test weighs them."""
    if even:
        return 0.78
    return 1.0 if legs <= 9 else 0.92 - 0.008 * (legs - 11)


def _windows(legs: int, *, even: bool) -> str:
    """One window in the middle, clear of the servos [mm]."""
    width = 60.0 if even else 1.1 * (_ring_radius(legs) - 46.0)
    length = max(_plate_length(legs) - 60.0, 60.0) if even else width
    return f'[["0 mm", "0 mm", "{length:.0f} mm", "{width:.0f} mm"]]'


def _plate_length(legs: int) -> float:
    return max(120.0 * (legs // 2 - 1), 120.0)


def _rows(rows: int) -> str:
    """Hips of the left side, front to rear, fanned out from 45 to 135 degrees [mm, deg]."""
    length = 120.0 * (rows - 1)
    lines = []
    for row in range(rows):
        share = row / (rows - 1)
        x = length * (0.5 - share)
        y = 75.0 + 30.0 * sin(pi * share)
        yaw = 45.0 + 90.0 * share
        lines.append(f'  ["{x:.0f} mm", "{y:.0f} mm", "{yaw:.0f} deg"],')
    head = (
        "# Left hips from front to rear: x, y, and the way the leg points; mirrored on the right.\n"
    )
    return head + "hips = [\n" + "\n".join(lines).replace('"-0 ', '"0 ') + "\n]"


def _ring_radius(legs: int) -> float:
    """Radius that leaves 100 mm between neighbouring hips, at least 100 mm [mm]."""
    return max(100.0, 50.0 / sin(pi / legs))


def _ring(legs: int) -> str:
    return (
        "# Hips evenly spaced on a circle; one leg points straight ahead.\n"
        f'ring = "{_ring_radius(legs):.0f} mm"'
    )


def _coxa_travel(legs: int, *, even: bool) -> int:
    return 45 if even and legs <= 6 else 30


def adopt(urdf: Path, folder: Path | None = None) -> Path:
    """Write a sheet around an existing URDF.

    Args:
        urdf: The description.
        folder: Where to put the sheet; beside the URDF when None.

    Returns:
        The sheet.

    Raises:
        RobotError: if the URDF cannot be used, or a sheet exists already.
    """
    from legwright.robot.legs import find_legs
    from legwright.robot.urdf import read_urdf

    urdf = Path(urdf)
    tree = read_urdf(urdf)
    found = find_legs(tree, urdf)
    home = urdf.parent if folder is None else Path(folder)
    legs = [tuple(joint.name for joint in limb.joints if joint.actuated) for limb in found.limbs]
    where = Path(os.path.relpath(urdf, home)).as_posix()
    sheet = home / "robot.toml"
    write_new(sheet, adopted_sheet(tree, where, body=found.body, legs=legs))
    return sheet


def adopted_sheet(tree: Tree, urdf: str, *, body: str, legs: Sequence[Sequence[str]]) -> str:
    """The commented sheet around a description.

    Args:
        tree: The description.
        urdf: Its path from the sheet's folder.
        body: The body link that was found.
        legs: Driven joints of each leg that was found, base to foot.

    Returns:
        The text of a ``robot.toml``.
    """
    in_legs = {name for leg in legs for name in leg}
    others = [j.name for j in tree.joints.values() if j.actuated and j.name not in in_legs]
    listed = "\n".join("#   " + _comment(" -> ".join(leg)) for leg in legs)
    held = "\n".join(f'# {key(name)} = "0 deg"' for name in others)
    fit = "\n".join(f'# {key(name)} = "leg"' for leg in legs for name in leg)
    return ADOPTED.format(
        name=quoted(tree.name),
        urdf=quoted(urdf),
        body=_comment(body),
        count=len(legs),
        legs=listed,
        held=held or "# (every driven joint belongs to a leg)",
        fit=fit,
    )


def _comment(text: str) -> str:
    """Text that stays inside one comment line."""
    return "".join(c if c.isprintable() else "?" for c in text)


def write_new(file: Path, text: str) -> None:
    """Write a file that is not there yet, and the folders around it.

    Args:
        file: The file.
        text: Its content.

    Raises:
        RobotError: if it exists already or cannot be written.
    """
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise RobotError(
            file, "", "exists already, and nothing is overwritten", "Choose another place."
        ) from None
    except (OSError, ValueError) as error:
        raise RobotError(
            file, "", f"cannot be written ({error})", "Choose another place."
        ) from None
