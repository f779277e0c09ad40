"""What bring-up found out about a machine: nodes, directions, zeros, friction, thresholds.

    joint position = direction · counts · 2π / counts per turn + zero

Written to `calibration.toml` in the robot folder; `docs/calibration.md` documents the file.
"""

from __future__ import annotations

import os
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from math import isfinite
from pathlib import Path
from typing import Any

from legwright.errors import RobotError, did_you_mean
from legwright.robot.robot import Robot

FILE = "calibration.toml"
SCHEMA = 1
"""Version of the file."""
_TOP = ("schema", "robot", "made", "made_with", "joint")


@dataclass(frozen=True, slots=True, kw_only=True)
class JointCalibration:
    """What is known about one joint."""

    node: int | None = None
    """Its drive's node id; the sheet's when None."""
    serial: int | None = None
    """Serial number of the drive that was calibrated."""
    direction: int = 1
    """1 where counts grow with the joint angle, else -1."""
    zero: float = 0.0
    """Joint position at count 0 [rad]."""
    friction: float | None = None
    """Torque that turns the joint slowly, gravity left out [N·m]."""
    threshold: float | None = None
    """Smallest torque that tells the ground from the air [N·m]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """All joints of one machine."""

    robot: str
    """Name of the robot that was calibrated."""
    joints: Mapping[str, JointCalibration] = field(default_factory=dict)
    made: str = ""
    """When, ISO 8601."""
    made_with: str = ""
    """Version of this program."""

    def with_joint(self, name: str, **found: Any) -> Calibration:
        """The same with one joint changed: what a step of bring-up writes."""
        one = replace(self.joints.get(name, JointCalibration()), **found)
        return replace(self, joints={**self.joints, name: one})

    def missing(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """Joints that have not been calibrated."""
        return tuple(name for name in names if name not in self.joints)


def blank(robot: Robot) -> Calibration:
    """Of a machine of which nothing is known: zeros at count 0, no flips."""
    names = (*robot.joint_names, *robot.held)
    return Calibration(robot=robot.name, joints={name: JointCalibration() for name in names})


def calibration_of(robot: Robot) -> Calibration | None:
    """The calibration in the robot's folder; None where there is none.

    Raises:
        RobotError: if the file is broken, or belongs to another robot.
    """
    path = robot.source.parent / FILE
    return read_calibration(path, robot) if path.is_file() else None


def read_calibration(path: Path, robot: Robot) -> Calibration:
    """Read a calibration.

    Args:
        path: The file.
        robot: Whose it must be.

    Raises:
        RobotError: naming file, key and cure.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RobotError(
            path, "", f"cannot be read: {error}", "Run `legwright bringup` again."
        ) from error
    if table.get("schema") != SCHEMA:
        raise RobotError(
            path, "schema", f"is {table.get('schema')!r}, not {SCHEMA}",
            "It was written by another version: run `legwright bringup` again.",
        )  # fmt: skip
    for key in table:
        if key not in _TOP:
            raise RobotError(path, key, "is not a known key", did_you_mean(key, _TOP))
    if table.get("robot") != robot.name:
        raise RobotError(
            path, "robot", f"is {table.get('robot')!r}, this robot is {robot.name!r}",
            "Calibrations belong to one machine: remove the file and run `legwright bringup`.",
        )  # fmt: skip
    names = (*robot.joint_names, *robot.held)
    joints: dict[str, JointCalibration] = {}
    for name, row in table.get("joint", {}).items():
        if name not in names:
            raise RobotError(path, f"joint.{name}", "is no driven joint", did_you_mean(name, names))
        joints[name] = _joint(path, f"joint.{name}", row)
    return Calibration(
        robot=robot.name,
        joints=joints,
        made=str(table.get("made", "")),
        made_with=str(table.get("made_with", "")),
    )


def write_calibration(path: Path, calibration: Calibration) -> None:
    """Write a calibration; the old file stays until the new one is complete.

    Args:
        path: The file.
        calibration: What to write.

    Raises:
        RobotError: if it cannot be written.
    """
    lines = [
        "# Written by bring-up, see docs/calibration.md. Angles in rad, torques in N*m.",
        f"schema = {SCHEMA}",
        f'robot = "{calibration.robot}"',
        f'made = "{calibration.made}"',
        f'made_with = "{calibration.made_with}"',
    ]
    for name, one in calibration.joints.items():
        lines += ["", f'[joint."{name}"]']
        for item in fields(one):
            value = getattr(one, item.name)
            if value is not None:
                lines.append(f"{item.name} = {value!r}")
    try:
        with tempfile.NamedTemporaryFile(
            "w", dir=path.parent, prefix=".calibration-", delete=False, encoding="utf-8"
        ) as file:
            file.write("\n".join(lines) + "\n")
            file.flush()
            os.fsync(file.fileno())
        Path(file.name).replace(path)
    except OSError as error:
        raise RobotError(
            path, "", f"cannot be written: {error.strerror}", "Look at the folder's rights."
        ) from error


def _joint(path: Path, place: str, row: Any) -> JointCalibration:
    known = {item.name for item in fields(JointCalibration)}
    if not isinstance(row, dict):
        raise RobotError(path, place, "is no table", "Write one table per joint.")
    for key, value in row.items():
        if key not in known:
            raise RobotError(path, f"{place}.{key}", "is not a known key", did_you_mean(key, known))
        whole = key in ("node", "serial", "direction")
        number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
        if not number or (whole and not isinstance(value, int)):
            what = "a whole number" if whole else "a finite number"
            raise RobotError(path, f"{place}.{key}", f"is {value!r}", f"Write {what}.")
    if row.get("direction", 1) not in (1, -1):
        raise RobotError(path, f"{place}.direction", f"is {row['direction']}", "Write 1 or -1.")
    if not 1 <= row.get("node", 1) <= 127:
        raise RobotError(path, f"{place}.node", f"is {row['node']}", "Write a node id, 1 to 127.")
    return JointCalibration(**row)
