"""Can plates and brackets be made, and do they weigh what the description says?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np

from legwright.errors import RequestError
from legwright.fabrication.bracket import Bracket
from legwright.fabrication.fold_rules import FoldLimit, fold_limits
from legwright.fabrication.parts import Parts, parts_of
from legwright.fabrication.plate import Plate
from legwright.fabrication.plate_rules import Measured, PlateMeasures, measured
from legwright.robot.generate import plate_solid
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats
from legwright.study.bench import Bench
from legwright.study.checks.angles import BRACKETS, folding, judged_angles
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

PLATES = "plates"
MASS_SHARE = 2.0
"""Difference of mass that changes no verdict elsewhere, in % of the robot's; common practice."""
COM_SHIFT = 2.0
"""Shift of the robot's centre of mass, likewise [mm]."""
ROOM_BESIDE = 0.001
"""Between a bracket's flange and a body plate, each side [m]; common practice."""
RULE = "common practice for laser cutting, no published source"


def check_plates(bench: Bench) -> Iterator[Finding]:
    """Holes, webs, edges, kerf, bends; mass and centre of mass against the description."""
    yield from judged(bench.robot)


def judged(robot: Robot) -> Iterator[Finding]:
    """All findings on plates and brackets of a robot."""
    parts = parts_of(robot)
    if not parts.plates.plates:
        trouble = parts.plates.trouble
        yield Finding(
            area=PLATES,
            name="body plates",
            verdict=Verdict.FAIL if trouble else Verdict.UNKNOWN,
            why=trouble[:1].upper() + trouble[1:] + "."
            if trouble
            else f"Not stated: {', '.join(parts.plates.missing)}.",
            source="making.plates",
            cure="Another outline or other measures under making.plates."
            if trouble
            else f"Fill in {', '.join(parts.plates.missing)}.",
        )
    elif not _upright(parts):
        yield Finding(
            area=PLATES, name="hips in the plates", verdict=Verdict.UNKNOWN,
            why=" ".join(parts.plates.notes), source="hip axes of the description",
            cure="Draw the hips' mounts by hand: only upright hip axes are laid out.",
        )  # fmt: skip
    if parts.flat:
        making = parts.robot.sheet.making
        rules = (making.least_hole, making.least_web, making.least_edge)
        yield from _cutting(parts.flat, making.kerf, rules)
    if parts.plates.plates:
        yield from _weight(robot, parts)
    yield from _folding(robot, parts)
    yield from judged_angles(robot, parts)


def _upright(parts: Parts) -> bool:
    return not any("not upright" in note for note in parts.plates.notes)


@lru_cache(maxsize=4)
def _cutting(
    flat: tuple[Plate, ...], kerf: float | None, rules: tuple[float, float, float]
) -> tuple[Finding, ...]:
    """What is said of outlines and openings; remembered, since few edits of a leg change them."""
    return (*_laid(flat, rules), *_kerf(flat, kerf))


def _laid(flat: tuple[Plate, ...], least: tuple[float, float, float]) -> Iterator[Finding]:
    seen = [(plate, measured(plate)) for plate in flat]
    bad = [f"{a} and {b} of {p.name}" for p, m in seen for a, b in m.overlaps]
    bad += [f"{name} of {p.name}" for p, m in seen for name in m.outside]
    yield judge(
        PLATES,
        "openings that overlap or leave the outline",
        float(len(bad)),
        0.0,
        "places",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=tuple(bad[:6]),
        why=f"Overlapping or outside: {'; '.join(bad[:3])}." if bad else "All lie apart, inside.",
        source="outlines of making.plates and making.bracket",
        cure="Move them apart, or make them smaller.",
    )
    rules: tuple[tuple[str, str, Callable[[PlateMeasures], Measured | None]], ...] = (
        ("smallest opening", "least_hole", lambda m: m.hole),
        ("web between openings", "least_web", lambda m: m.web),
        ("edge beside openings", "least_edge", lambda m: m.edge),
    )
    for (name, key, pick), rule in zip(rules, least, strict=True):
        found = [(place.value / p.thickness, p, place) for p, m in seen if (place := pick(m))]
        if not found:
            continue
        _, plate, place = min(found, key=lambda each: each[0])
        yield judge(
            PLATES,
            name,
            place.value * 1e3,
            rule * plate.thickness * 1e3,
            "mm",
            sense=Sense.AT_LEAST,
            near=0.0,
            parts=place.between,
            why=f"{plate.name}, {plate.thickness * 1e3:.3g} mm thick: "
            f"{' and '.join(place.between)}.",
            source=f"making.{key} × thickness; {RULE}",
            cure="Move the openings, or take thinner sheet.",
        )


def _kerf(flat: tuple[Plate, ...], kerf: float | None) -> Iterator[Finding]:
    trouble = ""
    finest = min((e.smallest for p in flat for e in p.openings), default=None)
    for plate in flat if kerf else ():
        try:
            plate.cut(kerf or 0.0)
        except RequestError as error:
            trouble = f"{plate.name}: {error}"
    yield judge(
        PLATES,
        "laser fits the finest opening",
        None if finest is None or kerf is None else kerf * 1e3,
        0.0 if trouble else None if finest is None else finest * 1e3,
        "mm",
        sense=Sense.AT_MOST,
        near=0.0,
        why=trouble or "Width of the cut against the smallest opening.",
        source="making.kerf",
        cure="Larger corners and openings, or a finer cut.",
        missing="Fill in making.kerf.",
    )


def _weight(robot: Robot, parts: Parts) -> Iterator[Finding]:
    plates = parts.plates.plates
    made = sum(plate.mass for plate in plates)
    shape = robot.sheet.dimensions
    if shape is None:
        yield from _within_trunk(robot, made + parts.angles.mass)
        return
    stated = (shape.plates.upper, shape.plates.lower)
    away = (shape.plates.gap + shape.plates.thickness) / 2.0
    drawn = [
        plate_solid(shape.plates, one, height)
        for one, height in zip(stated, (away, -away), strict=True)
    ]
    assumed = sum(solid.mass for solid in drawn)
    moment = sum((solid.mass * solid.com for solid in drawn), np.zeros(3))
    real = sum((p.mass * p.solid.com for p in plates), np.zeros(3))
    payload = "State dimensions.plates.upper and .lower as `legwright parts` prints them."
    yield judge(
        PLATES,
        "plate mass against the description",
        100.0 * abs(made - assumed) / robot.mass,
        MASS_SHARE,
        "% of the robot",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=tuple(plate.name for plate in plates),
        why=f"As drawn {made * 1e3:.0f} g, in the description {assumed * 1e3:.0f} g, of a robot of "
        f"{robot.mass:.2f} kg.",
        source="dimensions.plates; area × thickness × density",
        cure=payload,
    )
    together = robot.mass - assumed + made
    shift = (real - moment - (made - assumed) * _com(robot)) / together
    yield judge(
        PLATES,
        "centre of mass against the description",
        float(np.linalg.norm(shift)) * 1e3,
        COM_SHIFT,
        "mm",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=tuple(plate.name for plate in plates),
        why="Shift of the whole robot's centre of mass when its plates are as drawn: "
        f"{shift[0] * 1e3:+.2f} mm forward, {shift[2] * 1e3:+.2f} mm up.",
        source="dimensions.plates; area × thickness × density",
        cure=payload,
    )


def _com(robot: Robot) -> Floats:
    """The trunk's centre of mass stands for the robot's: the legs lie around it."""
    return np.asarray(robot.trunk.com)


def _within_trunk(robot: Robot, made: float) -> Iterator[Finding]:
    """A URDF gives the trunk as one mass: what is known in it must leave room for the plates."""
    sheet = robot.sheet
    first = [leg.chain.moving_names[0] for leg in robot.legs.values()]
    inside = [robot.servos.get(name) for name in first]
    known = sum((servo.mass or 0.0) for servo in inside if servo is not None)
    known += (sheet.battery.mass or 0.0) if sheet.battery else 0.0
    known += sum(load.mass or 0.0 for load in sheet.load.values())
    body = robot.tree.links[robot.body].solid.mass
    yield judge(
        PLATES,
        "plates and angle brackets within the trunk's mass"
        if robot.sheet.making.angle
        else "plates within the trunk's mass",
        made * 1e3,
        (body - known) * 1e3 if body > 0.0 else None,
        "g",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=(robot.body,),
        why=f"Link '{robot.body}' weighs {body:.3f} kg; hip servos, battery and stated loads take "
        f"{known:.3f} kg of it.",
        source="URDF inertial of the body link; servo, battery and load masses",
        cure=f"Raise the mass of link '{robot.body}', or lighten the plates.",
        missing=f"Give link '{robot.body}' an <inertial> element.",
    )


def _folding(robot: Robot, parts: Parts) -> Iterator[Finding]:
    keys = robot.sheet.making.bracket
    if keys is None:
        return
    bracket = parts.hip.bracket
    if bracket is None:
        trouble = parts.hip.trouble
        yield Finding(
            area=BRACKETS,
            name="hip bracket",
            verdict=Verdict.FAIL if trouble else Verdict.UNKNOWN,
            why=f"It cannot be folded: {trouble}"
            if trouble
            else f"Not stated: {', '.join(parts.hip.missing)}.",
            source="making.bracket",
            cure="Other measures under making.bracket."
            if trouble
            else f"Fill in {', '.join(parts.hip.missing)}.",
        )
        return
    limits = _limits(bracket, keys.least_radius, keys.punch, keys.die)
    yield from folding(limits, bracket.name, "making.bracket")
    gap = _gap(robot)
    yield judge(
        BRACKETS,
        f"room between the plates, {bracket.name}",
        bracket.height * 1e3,
        None if gap is None else (gap - 2.0 * ROOM_BESIDE) * 1e3,
        "mm",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=(bracket.name,),
        why="Height over both flanges against the gap between the plates, a millimetre free on "
        "each side.",
        source="making.bracket.height, making.plates.gap",
        cure="A lower bracket, or plates farther apart.",
        missing="Fill in making.plates.gap.",
    )


@lru_cache(maxsize=4)
def _limits(
    bracket: Bracket, least_radius: float, punch: float, die: float | None
) -> tuple[FoldLimit, ...]:
    """Remembered, since few edits of a leg change the bracket."""
    return fold_limits(bracket, least_radius=least_radius, punch=punch, die=die)


def _gap(robot: Robot) -> float | None:
    keys, shape = robot.sheet.making.plates, robot.sheet.dimensions
    if keys is not None and keys.gap is not None:
        return keys.gap
    return None if shape is None else shape.plates.gap
