"""Can angle brackets be folded, and does the description hold their mass?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from legwright.fabrication.angle_bracket import AngleBracket
from legwright.fabrication.fold_rules import FoldLimit, angle_limits
from legwright.fabrication.parts import Parts
from legwright.robot.robot import Robot
from legwright.robot.sheet_making import AngleKeys
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

BRACKETS = "brackets"


def folding(limits: Iterable[FoldLimit], bracket: str, key: str) -> Iterator[Finding]:
    """The findings on what folding asks of a bracket, which the sheet states under a key."""
    for rule in limits:
        yield judge(
            BRACKETS,
            f"{rule.name}, {bracket}",
            rule.value * 1e3,
            rule.least * 1e3,
            "mm",
            sense=Sense.AT_LEAST,
            near=0.0,
            parts=(bracket,),
            why=rule.why,
            source=f"{key}; common practice of folding, no published source",
            cure=rule.cure,
        )


def judged_angles(robot: Robot, parts: Parts) -> Iterator[Finding]:
    """All findings on a robot's angle brackets.

    Args:
        robot: The robot.
        parts: What is made for it.
    """
    made = {bracket.name.removeprefix("angle-"): bracket for bracket in parts.angles.brackets}
    for name, keys in robot.sheet.making.angle.items():
        if name not in made:
            yield _none(name, parts)
            continue
        bracket = made[name]
        limits = angle_limits(bracket, least_radius=keys.least_radius, die=keys.die)
        yield from folding(limits, bracket.name, f"making.angle.{name}")
        yield from _room(robot, name, bracket, keys)
    if made and robot.sheet.dimensions is not None:
        yield _cargo(robot, parts)


def _room(robot: Robot, name: str, bracket: AngleBracket, keys: AngleKeys) -> Iterator[Finding]:
    """Of a bracket between the plates: whether its riser ends below the other one."""
    if (keys.on == "lower") != (keys.side == "above"):
        return
    plates, shape = robot.sheet.making.plates, robot.sheet.dimensions
    gap = plates.gap if plates is not None else None
    if gap is None and shape is not None:
        gap = shape.plates.gap
    height = max(float(each.corners[:, 2].max()) for each in bracket.blocks)
    yield judge(
        BRACKETS,
        f"room between the plates, {bracket.name}",
        height * 1e3,
        None if gap is None else gap * 1e3,
        "mm",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=(bracket.name,),
        why="Height over the base against the gap between the plates.",
        source=f"making.angle.{name}.riser, making.plates.gap",
        cure="A shorter riser, plates farther apart, or the bracket on the plate's other side.",
        missing="Fill in making.plates.gap.",
    )


def _none(name: str, parts: Parts) -> Finding:
    trouble, missing = parts.angles.trouble.get(name), parts.angles.missing.get(name, ())
    return Finding(
        area=BRACKETS,
        name=f"angle-{name}",
        verdict=Verdict.FAIL if trouble else Verdict.UNKNOWN,
        why=f"It cannot be folded: {trouble}" if trouble else f"Not stated: {', '.join(missing)}.",
        source=f"making.angle.{name}",
        cure=f"Other measures under making.angle.{name}."
        if trouble
        else f"Fill in {', '.join(missing)}.",
    )


def _cargo(robot: Robot, parts: Parts) -> Finding:
    """Brackets have no key of their own in a generated shape: its cargo must hold them."""
    shape = robot.sheet.dimensions
    cargo = 0.0 if shape is None else shape.plates.cargo
    mass = parts.angles.mass
    return judge(
        BRACKETS,
        "angle brackets within the cargo",
        mass * 1e3,
        cargo * 1e3,
        "g",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=tuple(bracket.name for bracket in parts.angles.brackets),
        why=f"All of them weigh {mass * 1e3:.1f} g as drawn; the description carries them in "
        "dimensions.plates.cargo, beside whatever else that stands for.",
        source="dimensions.plates.cargo; area × thickness × density",
        cure=f"Raise dimensions.plates.cargo by {mass * 1e3:.1f} g.",
    )
