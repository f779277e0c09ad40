"""Which servo sits at which joint."""

from __future__ import annotations

import fnmatch
from collections.abc import Iterable, Mapping
from pathlib import Path

from legwright.errors import RobotError, did_you_mean
from legwright.robot.servo import Servo, from_urdf
from legwright.robot.sheet import Sheet
from legwright.robot.tree import Tree


def servos_of(
    names: Iterable[str], tree: Tree, sheet: Sheet, source: Path
) -> dict[str, Servo | None]:
    """The servo of each driven joint: the sheet's, else what the URDF's limits imply.

    Args:
        names: The driven joints.
        tree: The description.
        sheet: Holds the servo models and, under ``fit``, patterns of joint names.
        source: The sheet, for errors.

    Returns:
        Joint name -> servo, None where neither says.

    Raises:
        RobotError: for a pattern that fits no joint, or an unknown servo.
    """
    joints = list(names)
    for pattern, servo in sheet.fit.items():
        if servo not in sheet.servo:
            raise RobotError(
                source, f"fit.{pattern}", f"names the unknown servo '{servo}'",
                did_you_mean(servo, sheet.servo) if sheet.servo else "State it under [servo].",
            )  # fmt: skip
        if not any(fnmatch.fnmatchcase(name, pattern) for name in joints):
            raise RobotError(
                source, f"fit.{pattern}", "fits no driven joint", did_you_mean(pattern, joints)
            )
    return {name: _servo(name, tree, sheet.fit, sheet.servo) for name in joints}


def best_fit(name: str, fit: Mapping[str, str], models: Mapping[str, Servo]) -> Servo | None:
    """The servo of the longest pattern that fits a joint's name; an exact name goes first."""
    patterns = [pattern for pattern in fit if fnmatch.fnmatchcase(name, pattern)]
    if not patterns:
        return None
    return models[fit[max(patterns, key=lambda pattern: (pattern == name, len(pattern)))]]


def _servo(
    name: str, tree: Tree, fit: Mapping[str, str], models: Mapping[str, Servo]
) -> Servo | None:
    servo = best_fit(name, fit, models)
    joint = tree.joints[name]
    if servo is None and joint.effort and joint.velocity:
        return from_urdf(joint.effort, joint.velocity)
    return servo
