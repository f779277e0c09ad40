"""One <joint> of a URDF."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi
from pathlib import Path

import numpy as np

from legwright.errors import did_you_mean
from legwright.robot.placement import shifted, turned
from legwright.robot.tree import Floats, Joint, JointKind, Mimic, read_only
from legwright.robot.urdf_values import Reader
from legwright.robot.xml_text import Element

FREE_KINDS = ("floating", "planar")
"""Joint types that set a robot free in its surroundings."""
WIDEST = 100.0 * pi
"""Radians or metres; a limit farther away is a slip."""


@dataclass(frozen=True, slots=True)
class LooseJoint:
    """A joint as read, before its place in the tree is checked."""

    name: str
    line: int
    joint: Joint
    free: bool
    """True for a floating or planar joint; `joint` then stands for its place only."""


def read_joint(element: Element, path: Path) -> LooseJoint:
    """A joint from its element.

    Args:
        element: The <joint>.
        path: The file, for errors.

    Returns:
        The joint; a joint whose limits meet is read as fixed at that position.

    Raises:
        RobotError: for anything in it that cannot be.
    """
    name = Reader(path, "joint").word(element, "name")
    read = Reader(path, f"joint '{name}'")
    kind, free = _kind(element, read)
    placement = read.origin(element)
    axis = _axis(element, read) if kind is not JointKind.FIXED else read_only((1.0, 0.0, 0.0))
    lower, upper = _range(element, kind, read)
    mimic = _mimic(element, read) if kind is not JointKind.FIXED else None
    if mimic is not None and lower == upper:
        lower, upper = -inf, inf  # its source's limits are what counts
    if kind is not JointKind.FIXED and lower == upper:
        step = shifted if kind is JointKind.PRISMATIC else turned
        placement, kind = read_only(placement @ step(axis, lower)), JointKind.FIXED
        lower = upper = 0.0
    joint = Joint(
        name=name,
        kind=kind,
        parent=_end(element, "parent", read),
        child=_end(element, "child", read),
        placement=placement,
        axis=axis,
        lower=lower,
        upper=upper,
        effort=_rating(element, "effort", read),
        velocity=_rating(element, "velocity", read),
        mimic=mimic,
    )
    return LooseJoint(name, element.line, joint, free)


def _kind(element: Element, read: Reader) -> tuple[JointKind, bool]:
    text = read.word(element, "type")
    if text in FREE_KINDS:
        return JointKind.FIXED, True
    known = [kind.value for kind in JointKind]
    if text not in known:
        read.fail(
            element,
            f"has the unknown type {text[:40]!r}",
            did_you_mean(text, [*known, *FREE_KINDS]),
        )
    return JointKind(text), False


def _end(element: Element, tag: str, read: Reader) -> str:
    end = element.first(tag)
    if end is None:
        read.fail(element, f"lacks <{tag}>", f'Add <{tag} link="..."/>.')
    return read.word(end, "link")


def _axis(element: Element, read: Reader) -> Floats:
    axis = element.first("axis")
    values = None if axis is None else read.numbers(axis, "xyz", 3)
    if axis is None or values is None:
        return read_only((1.0, 0.0, 0.0))
    length = float(np.linalg.norm(values))
    if length < 1e-6:
        read.fail(axis, "<axis> is zero", 'Give a direction, like <axis xyz="0 0 1"/>.')
    return read_only(np.array(values) / length)


def _range(element: Element, kind: JointKind, read: Reader) -> tuple[float, float]:
    if kind is JointKind.FIXED:
        return 0.0, 0.0
    limit = element.first("limit")
    if limit is None and kind is not JointKind.CONTINUOUS:
        read.fail(
            element,
            f"is {kind.value} and has no <limit>",
            "Add lower, upper, effort and velocity, or make it continuous.",
        )
    lower = upper = None
    if limit is not None:
        lower, upper = read.number(limit, "lower"), read.number(limit, "upper")
    if kind is JointKind.CONTINUOUS or limit is None:
        return -inf, inf
    if lower is None and upper is None:
        read.fail(limit, "<limit> has neither lower nor upper", "Add both, in rad or m.")
    low, high = lower or 0.0, upper or 0.0
    if low > high:
        read.fail(
            limit, f"has limits {low:g} to {high:g}, swapped", "Put the smaller one in lower."
        )
    if max(abs(low), abs(high)) > WIDEST:
        read.fail(
            limit,
            f"has limits {low:g} to {high:g}, wider than {WIDEST:.0f}",
            "Limits are in rad or m; make a joint without stops continuous.",
        )
    return low, high


def _rating(element: Element, key: str, read: Reader) -> float | None:
    limit = element.first("limit")
    value = None if limit is None else read.number(limit, key)
    if limit is not None and value is not None and value < 0.0:
        read.fail(
            limit, f"has {key} {value:g}", f"Write what the drive can do, above zero, in {key}."
        )
    return value or None  # exporters write 0 for "not known"


def _mimic(element: Element, read: Reader) -> Mimic | None:
    mimic = element.first("mimic")
    if mimic is None:
        return None
    multiplier, offset = read.number(mimic, "multiplier"), read.number(mimic, "offset")
    return Mimic(
        source=read.word(mimic, "joint"),
        multiplier=1.0 if multiplier is None else multiplier,
        offset=0.0 if offset is None else offset,
    )
