"""What is shown: one walk, planned, weighed, and fed from the robot's circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from legwright.electrics.circuit import Circuit, circuit_of
from legwright.electrics.demand import unknown_servos
from legwright.electrics.supply import Supply, supply
from legwright.errors import LegwrightError, RequestError, RobotError, did_you_mean
from legwright.locomotion.gait import Gait
from legwright.locomotion.stance import Footing, footing
from legwright.locomotion.walk import Walk
from legwright.mechanics.draw import draw
from legwright.mechanics.reach import reach_feet
from legwright.robot.robot import Robot
from legwright.robot.tree import read_only
from legwright.study.asked import Asked, asked_of
from legwright.study.bench import SLOPE_HEADINGS
from legwright.study.evidence import Case
from legwright.study.power import missing_of
from legwright.study.trial import pace, trial
from legwright.views.desk.asked import Ask

UNKNOWN = "What voltage arrives is not known."


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Shown:
    """One walk of one robot, and what its circuit gives to it."""

    robot: Robot
    asked: Asked
    case: Case
    circuit: Circuit | None
    supply: Supply | None
    """None where the circuit or a servo's currents are not known; see `note`."""
    note: str = ""
    height: float | None = None
    """Body height that the user asked for [m]."""

    @property
    def footing(self) -> Footing:
        """Where the robot stands in this walk."""
        return self.case.walk.footing or footing(self.robot)


def case_names(robot: Robot) -> tuple[str, ...]:
    """The cases that a study of this robot walks; none where it cannot stand."""
    try:
        asked = asked_of(robot, footing(robot))
    except LegwrightError:
        return ()
    level = [f"{gait.name} {way}" for gait in asked.gaits for way in asked.directions(gait)]
    slope = robot.sheet.requirements.slope
    sloped = [f"{gait.name} {way}" for gait in asked.gaits for way in SLOPE_HEADINGS if slope]
    return (*level, *sloped)


def shown_case(robot: Robot, name: str) -> Shown:
    """Walk one of the cases of the study, as the study does.

    Args:
        robot: The robot.
        name: Of the case: ``tripod forward``; the first one when empty.

    Raises:
        RequestError: for a case that this robot does not have, or when it cannot stand.
        RobotError: when it cannot stand.
    """
    stand = footing(robot)
    asked = asked_of(robot, stand)
    name = checked_name(robot, asked, name)
    gait = max(
        (one for one in asked.gaits if name.startswith(f"{one.name} ")),
        key=lambda one: len(one.name),
    )
    way = name[len(gait.name) + 1 :]
    slope = robot.sheet.requirements.slope or 0.0
    walked, twist = asked.directions(gait)["forward" if way in SLOPE_HEADINGS else way]
    walk = Walk(walked, velocity=twist[:2], turn=twist[2], footing=stand)
    walk = pace(robot, asked, walk, payload=asked.payload)
    if way in SLOPE_HEADINGS:
        walk = replace(walk, slope=slope, uphill=SLOPE_HEADINGS[way])
    return _fed(robot, asked, trial(robot, asked, walk, payload=asked.payload, name=name))


def checked_name(robot: Robot, asked: Asked, name: str) -> str:
    """A case's name; the first one's when empty.

    Raises:
        RequestError: for a case that this robot does not have.
    """
    names = case_names(robot)
    if not names:
        why = " ".join(asked.refused.values())
        raise RequestError("gaits", "none", f"one that this robot can walk. {why}")
    if name and name not in names:
        raise RequestError("case", name, f"one of this robot's. {did_you_mean(name, names)}")
    return name or names[0]


def shown_walk(robot: Robot, ask: Ask) -> Shown:
    """Walk as a user asks.

    Args:
        robot: The robot.
        ask: What is asked; a cycle time that is left out is found.

    Raises:
        RequestError: for a gait or numbers that make no walk.
        RobotError: when the robot cannot stand.
    """
    asked = asked_of(robot, footing(robot))
    walk = checked_walk(robot, asked, ask)
    if ask.cycle is None:
        walk = pace(robot, asked, walk, payload=asked.payload)
    return _fed(
        robot, asked, trial(robot, asked, walk, payload=asked.payload, name=""), ask.body_height
    )


def checked_walk(robot: Robot, asked: Asked, ask: Ask) -> Walk:
    """The walk that a user asks for, not walked yet.

    Raises:
        RequestError: for a gait or numbers that make no walk, or where the robot cannot stand.
    """
    gait = gait_of(asked, ask)
    gait.phases_of(tuple(robot.legs))
    return Walk(
        gait, velocity=ask.velocity, turn=ask.turn, cycle=ask.cycle, lift=ask.lift,
        slope=ask.slope, uphill=ask.uphill, footing=footing(robot, height=ask.body_height),
    )  # fmt: skip


def check_view(robot: Robot, case: str, ask: Ask | None) -> None:
    """Look whether something can be shown, without walking it.

    Args:
        robot: The robot.
        case: Name of a case.
        ask: A walk of the user's own in its place.

    Raises:
        RequestError: where words or numbers make none.
    """
    asked = asked_of(robot, footing(robot))
    if ask is None:
        checked_name(robot, asked, case)
    else:
        checked_walk(robot, asked, ask)


def glimpse(robot: Robot, last: Shown) -> Shown:
    """The walk that was shown last, walked by a robot that has changed: quick, and not exact.

    Its feet stay beside their hips where they were, so far as the sheet does not say otherwise;
    the duration of its cycle stays, and servos get the battery's cut-off voltage less the most
    that the wiring lost.

    Args:
        robot: The robot.
        last: What was shown.

    Raises:
        RequestError: when it cannot stand so.
    """
    stand = same_places(robot, last)
    asked = asked_of(robot, stand)
    lost = 0.0
    if last.supply is not None and not last.supply.brown_out:
        lost = float(np.max(last.supply.terminal[:, None] - last.supply.voltage))
    if asked.voltage is not None:
        asked = replace(asked, voltage=asked.voltage - lost)
    walk = replace(last.case.walk, footing=stand)
    case = trial(robot, asked, walk, payload=asked.payload, name=last.case.name)
    return Shown(
        robot=robot, asked=asked, case=case, circuit=None, supply=None, height=last.height,
        note="" if case.motion.ok else "A foot misses its path.",
    )  # fmt: skip


def same_places(robot: Robot, last: Shown) -> Footing:
    """Where a changed robot stands if its feet stay beside their hips.

    Args:
        robot: The robot.
        last: What was shown before the change.

    Raises:
        RequestError: where a foot does not reach its place.
    """
    old, was, stance = last.footing, last.robot, robot.sheet.stance
    if list(robot.legs) != list(was.legs):
        raise RequestError("legs", "others", "those that were shown")
    away = old.feet[:, :2] - was.hips[:, :2]
    if stance.foot_distance not in (None, was.sheet.stance.foot_distance):
        length = np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
        away = away * (stance.foot_distance / length)
    height = last.height or stance.body_height or old.height
    feet = np.column_stack([robot.hips[:, :2] + away, np.full(len(away), -height)])
    for name, place in stance.feet.items():
        feet[list(robot.legs).index(name), :2] = place
    answer = reach_feet(robot, feet, old.q)
    if not answer.ok.all():
        raise RequestError("stance", "too far", "places that every foot reaches")
    return Footing(feet=read_only(feet), q=read_only(answer.q), height=float(height))


def gait_of(asked: Asked, ask: Ask) -> Gait:
    """The gait that a user asks for: one of the robot's, or a change of it.

    Raises:
        RequestError: for an unknown gait, or numbers that make none.
    """
    known = {gait.name: gait for gait in asked.gaits}
    if ask.gait not in known:
        raise RequestError(
            "gait", ask.gait, f"one of this robot's. {did_you_mean(ask.gait, known)}"
        )
    own = known[ask.gait]
    if ask.duty is None and ask.phases is None:
        return own
    phases: Mapping[str | int, float] = own.phases
    if ask.phases is not None:
        phases = {str(leg): phase for leg, phase in ask.phases.items()}
    return Gait(
        duty=own.duty if ask.duty is None else ask.duty, phases=phases, name=f"{own.name}, changed"
    )


def _fed(robot: Robot, asked: Asked, case: Case, height: float | None = None) -> Shown:
    """The case at the voltages that really arrive, where the circuit is known."""
    circuit, given, note = None, None, missing_of(robot)
    if note:
        note = f"{UNKNOWN} {note}"
    if not note:
        try:
            circuit = circuit_of(robot)
        except RobotError as error:
            note = str(error)
    if circuit is not None:
        unknown = unknown_servos(robot)
        if unknown:
            note = f"{UNKNOWN} Give the servo of {unknown[0]} rated_voltage and stall_current."
        else:
            given = supply(
                robot, circuit, case.motion, case.loads,
                winding=case.draw.winding, ambient=case.draw.ambient,
            )  # fmt: skip
    if given is not None and not given.brown_out:
        drawn = draw(
            robot, case.motion, case.loads, voltage=given.voltage, ambient=case.draw.ambient
        )
        case = replace(case, draw=drawn)
    elif given is not None:
        note = f"Brown-out: {given.place} gets too little voltage."
    if not case.motion.ok:
        miss = np.where(case.motion.reached, 0.0, case.motion.reach_error)
        leg = case.motion.leg_names[int(miss.max(axis=0).argmax())]
        note = f"{leg} misses its path by up to {1e3 * float(miss.max()):.0f} mm."
    return Shown(
        robot=robot, asked=asked, case=case, circuit=circuit, supply=given, note=note, height=height
    )
