"""From what a page asks to a walk that can be walked; whatever makes no sense is refused here."""

from __future__ import annotations

import re
from math import isfinite
from pathlib import Path

from legwright.errors import RequestError, did_you_mean
from legwright.locomotion.gait import Gait
from legwright.locomotion.stance import footing
from legwright.rig.ground_choice import NAMES, ground_of
from legwright.rig.roughness import CLASSES
from legwright.robot.robot import Robot
from legwright.study.asked import asked_of
from legwright.study.trip import Trip
from legwright.views.desk.asked import WalkStart
from legwright.views.desk.walk_worker import Outset

FASTEST, FARTHEST, HIGHEST = 5.0, 100.0, 2.0
"""Speed [m/s], distance [m] and height of steps over leg length that make sense to ask."""
LAST_SEED = 2**31


def outset_of(robot: Robot, ask: WalkStart, folder: Path, stamp: str) -> Outset:
    """The walk that a page asks for.

    Args:
        robot: The edited robot.
        ask: What is asked; the speed is the sheet's for that gait when left out.
        folder: Where it is recorded.
        stamp: Part of the recording's name.

    Raises:
        RequestError: for what makes no walk.
        RobotError: where the robot cannot stand.
    """
    wanted = asked_of(robot, footing(robot))
    gaits = {gait.name: gait for gait in wanted.gaits}
    gait = _gait(ask.gait, gaits)
    speed = wanted.speeds[gait.name].forward if ask.speed is None else ask.speed
    _within("speed", speed, FASTEST, "m/s")
    _within("distance", ask.distance, FARTHEST, "m")
    _within("height of steps", ask.height, HIGHEST, "leg lengths")
    if not 0 <= ask.seed <= LAST_SEED:
        raise RequestError("seed", ask.seed, f"a whole number from 0 to {LAST_SEED}")
    if not 0.0 <= ask.pace <= FARTHEST:
        raise RequestError("pace", ask.pace, "0 (as fast as it goes) to 100")
    known = [*NAMES, *(f"iso-{name.lower()}" for name in CLASSES)]
    if ask.ground not in known:
        allowed = f"a known ground. {did_you_mean(ask.ground, known)}"
        raise RequestError("ground", ask.ground, allowed)
    ground_of(robot, ask.ground, seed=ask.seed, share=ask.height, length=1.0)
    trip = Trip(
        gait=gait, ground=ask.ground, speed=speed, share=ask.height, distance=ask.distance
    )  # fmt: skip
    words = (robot.name, gait.name, ask.ground, ask.mode, f"seed{ask.seed}", stamp)
    name = "-".join(re.sub(r"[^A-Za-z0-9]+", "-", word).strip("-") for word in words)
    return Outset(
        robot=robot, trip=trip, seed=ask.seed, felt=ask.mode == "felt", pace=ask.pace,
        record=folder / f"{name}.mcap",
    )  # fmt: skip


def _gait(name: str, known: dict[str, Gait]) -> Gait:
    if name not in known:
        allowed = f"one that this robot's sheet asks for. {did_you_mean(name, known)}"
        raise RequestError("gait", name, allowed)
    return known[name]


def _within(what: str, value: float, most: float, unit: str) -> None:
    if not (isfinite(value) and 0.0 < value <= most):
        raise RequestError(what, value, f"more than 0 and at most {most:g} {unit}")
