"""Trials: walk a gait with a twist, weigh it, and say how hard each limit is strained."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from legwright.locomotion.gait import Gait
from legwright.locomotion.plan import plan
from legwright.locomotion.walk import Walk
from legwright.mechanics.draw import draw
from legwright.mechanics.loading import PointMass
from legwright.mechanics.loads import loads
from legwright.mechanics.motion import Motion
from legwright.mechanics.pose import gravity_on
from legwright.robot.robot import Robot
from legwright.study._cycle import Least
from legwright.study.asked import Asked
from legwright.study.evidence import Case
from legwright.study.straining import REACHED, WHOLE, scale_of
from legwright.study.strains import Strain, ratios, strain_of, used_by, used_up_to

ROUNDING = 1e-9
"""So much less is weighed all the same."""

Straining = Callable[[Walk], Strain]
"""The hardest strain of a walk."""

FINE, COARSE = 128, 32
"""Samples a cycle for evidence, and for searching."""

SWING_TIMES = tuple(float(t) for t in np.geomspace(0.16, 1.6, 9))
"""Swing durations tried when the sheet leaves the cycle time open [s]."""


def trial(
    robot: Robot,
    asked: Asked,
    walk: Walk,
    *,
    payload: PointMass | None,
    samples: int = FINE,
    name: str = "",
) -> Case:
    """Plan one cycle, weigh it and draw the servo currents.

    Args:
        robot: The robot.
        asked: What is asked; gives friction, voltage and ambient temperature.
        walk: Gait, twist, cycle, ground and footing.
        payload: Payload to carry.
        samples: Samples a cycle.
        name: Name of the case.

    Returns:
        The case.
    """
    motion = plan(robot, walk, samples=samples)
    return _weighed(robot, asked, walk, motion, payload=payload, name=name or walk.gait.name)


def tilted(
    robot: Robot, asked: Asked, level: Case, slope: float, uphill: float,
    payload: PointMass | None, name: str,
) -> Case:  # fmt: skip
    """A case on level ground, walked on a slope: the joints move alike, gravity pulls aside.

    Args:
        robot: The robot.
        asked: What is asked.
        level: The case on level ground.
        slope: Of the ground [rad].
        uphill: Direction uphill from the body's x axis, to the left [rad].
        payload: Payload to carry.
        name: Name of the case.

    Returns:
        The same as `trial` of the walk on that slope.
    """
    walk = replace(level.walk, slope=slope, uphill=uphill)
    motion = replace(level.motion, gravity=gravity_on(slope, uphill))
    return _weighed(robot, asked, walk, motion, payload=payload, name=name)


def _weighed(
    robot: Robot, asked: Asked, walk: Walk, motion: Motion, *, payload: PointMass | None, name: str
) -> Case:
    weighed = loads(robot, motion, payload=payload, friction=asked.friction)
    drawn = draw(robot, motion, weighed, voltage=asked.voltage, ambient=asked.ambient)
    return Case(
        name=name,
        gait=walk.gait.name,
        walk=walk,
        motion=motion,
        loads=weighed,
        draw=drawn,
        friction=asked.friction,
    )


def straining(
    robot: Robot, asked: Asked, payload: PointMass | None, samples: int = COARSE
) -> Straining:
    """What tells the hardest strain of a walk.

    A path out of reach is not even weighed, and a walk that passes a limit is weighed to the end
    only where `Strain.exact` is asked for.

    Args:
        robot: The robot.
        asked: What is asked; gives friction, voltage and ambient temperature.
        payload: Payload to carry.
        samples: Samples a cycle.

    Returns:
        A function from a walk to the strain with the largest ratio.
    """
    scale, wants = scale_of(robot, asked, payload), robot.sheet.requirements
    holding = Least(
        gap=wants.joint_reserve - ROUNDING,
        margin=(wants.stability_margin or 0.0) - ROUNDING,
    )

    def hardest(walk: Walk, *, to_the_end: bool = False) -> Strain:
        found = None
        if scale is not None:
            least = REACHED if to_the_end else holding
            found = scale.used(walk, samples, least=least, missed=to_the_end)
        quick = found is not None
        if found is None:
            motion = plan(robot, walk, samples=samples)
            found = used_up_to(robot, motion)
            if motion.ok:
                case = _weighed(robot, asked, walk, motion, payload=payload, name="")
                found = used_by(robot, case)
        known = ratios(robot, found)
        limit = max(range(len(known)), key=known.__getitem__)
        strain = strain_of(robot, found, limit, known[limit], asked.friction)
        if not quick or found.whole or to_the_end:
            return strain
        return replace(strain, exact=partial(hardest, walk, to_the_end=True))

    return hardest


def thinned(motion: Motion, step: int) -> Motion:
    """Every so many samples of a motion."""
    per_sample = (
        "t", "q", "qd", "qdd", "feet", "contact", "body", "twist", "acceleration",
        "reach_error", "reached",
    )  # fmt: skip
    return replace(motion, **{name: getattr(motion, name)[::step] for name in per_sample})


def cycles(robot: Robot, gait: Gait) -> tuple[float, ...]:
    """Cycle times to try for a gait [s]: the sheet's, or a ladder of swing durations."""
    stated = robot.sheet.stance.cycle
    if stated is not None:
        return (stated,)
    return tuple(swing / (1.0 - gait.duty) for swing in SWING_TIMES)


def pace(
    robot: Robot, asked: Asked, walk: Walk, *, payload: PointMass | None, near: float | None = None
) -> Walk:
    """The same walk at the cycle time that strains the robot least.

    Args:
        robot: The robot.
        asked: What is asked.
        walk: Gait, twist, ground and footing; its cycle time is not looked at.
        payload: Payload to carry.
        near: A cycle time that it is likely to be near to [s]; it changes nothing but how soon
            it is found.

    Returns:
        The walk with its cycle time set.
    """
    tries = cycles(robot, walk.gait)
    scale = scale_of(robot, asked, payload)
    best, choice = math.inf, 0
    first = len(tries) // 2
    if near is not None:
        first = min(range(len(tries)), key=lambda at: abs(tries[at] - near))
    for at in sorted(range(len(tries)), key=lambda at: abs(at - first)):
        found = None
        if scale is not None:
            found = scale.used(
                walk, COARSE, least=_worth_weighing(robot, best), missed=best == math.inf,
                cycle=tries[at],
            )  # fmt: skip
        if found is None:
            tried = replace(walk, cycle=tries[at])
            found = used_by(robot, trial(robot, asked, tried, payload=payload, samples=COARSE))
        if not found.whole:
            continue  # what is known of it is more than the best has in all
        effort = sum(max(ratio, 0.0) ** 6 for ratio in ratios(robot, found))
        best, choice = min((best, choice), (effort, at))
    return replace(walk, cycle=tries[choice])


def _worth_weighing(robot: Robot, effort: float) -> Least:
    """What a cycle must have so that it can take less effort."""
    if effort == math.inf:
        return WHOLE
    root, wants = effort ** (1.0 / 6.0), robot.sheet.requirements
    if root >= 2.0:  # what is out of reach is strained by 2 or more, not surely by more than this
        return WHOLE
    reserve, need = wants.joint_reserve, wants.stability_margin or 0.0
    return Least(
        gap=reserve - (root - 1.0) * max(reserve, 0.1) - ROUNDING,
        margin=need - (root - 1.0) * max(need, 0.02) - ROUNDING,
        headroom=wants.torque_reserve / root - ROUNDING,
    )
