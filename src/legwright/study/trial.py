"""Trials: walk a gait with a twist, weigh it, and say how hard each limit is strained."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from legwright.locomotion.gait import Gait
from legwright.locomotion.plan import plan
from legwright.locomotion.walk import Walk
from legwright.mechanics.draw import draw
from legwright.mechanics.loading import PointMass
from legwright.mechanics.loads import loads
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.study.asked import Asked
from legwright.study.evidence import Case

FINE, COARSE = 128, 32
"""Samples a cycle for evidence, and for searching."""

SWING_TIMES = tuple(float(t) for t in np.geomspace(0.16, 1.6, 9))
"""Swing durations tried when the sheet leaves the cycle time open [s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strain:
    """How hard one limit is used: 1 at the limit, more beyond it."""

    limit: str
    """``femur torque of left-middle``"""
    ratio: float
    parts: tuple[str, ...] = ()


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


def hardest(
    robot: Robot,
    asked: Asked,
    walk: Walk,
    *,
    payload: PointMass | None,
    samples: int = COARSE,
) -> Strain:
    """The hardest strain of a walk; a path out of reach is not even weighed.

    Args:
        robot: The robot.
        asked: What is asked; gives friction, voltage and ambient temperature.
        walk: Gait, twist, cycle, ground and footing.
        payload: Payload to carry.
        samples: Samples a cycle.

    Returns:
        The strain with the largest ratio.
    """
    motion = plan(robot, walk, samples=samples)
    limited = tuple(_reach(robot, motion))
    if not motion.ok:
        return max(limited, key=lambda strain: strain.ratio)
    return strains(robot, _weighed(robot, asked, walk, motion, payload=payload, name=""))[0]


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


def strains(robot: Robot, case: Case) -> tuple[Strain, ...]:
    """Every limit of a case, the hardest used first.

    Args:
        robot: The robot.
        case: A walked and weighed gait.

    Returns:
        Strains of reach, joint limits, balance, grip, torque and heat.
    """
    found = [*_reach(robot, case.motion), *_balance(robot, case), *_servo(robot, case)]
    return tuple(sorted(found, key=lambda strain: -strain.ratio))


def pace(robot: Robot, asked: Asked, walk: Walk, *, payload: PointMass | None) -> Walk:
    """The same walk at the cycle time that strains the robot least.

    Args:
        robot: The robot.
        asked: What is asked.
        walk: Gait, twist, ground and footing; its cycle time is not looked at.
        payload: Payload to carry.

    Returns:
        The walk with its cycle time set.
    """
    tried = [replace(walk, cycle=cycle) for cycle in cycles(robot, walk.gait)]
    efforts = [
        _effort(strains(robot, trial(robot, asked, one, payload=payload, samples=COARSE)))
        for one in tried
    ]
    return tried[int(np.argmin(efforts))]


def _effort(used: tuple[Strain, ...]) -> float:
    """One number for all strains, led by the hardest but not blind to the others."""
    return sum(max(strain.ratio, 0.0) ** 6 for strain in used)


def joint_label(robot: Robot, column: int) -> str:
    """``femur of left-middle``: what people call a column of the J axis."""
    for leg in robot.legs.values():
        span = robot.columns[leg.name]
        if span.start <= column < span.stop:
            return f"{segment(leg.n, column - span.start)} of {leg.name}"
    return robot.joint_names[column]


def segment(joints: int, index: int) -> str:
    """The trade's word for joint ``index`` of a leg with ``joints`` drives."""
    words = ("coxa", "femur", "tibia")
    return words[index] if joints == len(words) else f"joint {index + 1}"


def _reach(robot: Robot, motion: Motion) -> Iterator[Strain]:
    miss = np.where(motion.reached, 0.0, motion.reach_error)
    leg = int(miss.max(axis=0).argmax())
    name = motion.leg_names[leg]
    if not motion.reached.all():
        size = float(np.linalg.norm(robot.hips[leg] - motion.feet[0, leg]))
        ratio = 2.0 + float(miss.max()) / max(size, 1e-6)
        yield Strain(limit=f"reach of {name}", ratio=ratio, parts=(name,))
    gap, column = joint_gap(robot, motion)
    reserve = robot.sheet.requirements.joint_reserve
    if np.isfinite(gap):
        yield Strain(
            limit=f"joint limit, {joint_label(robot, column)}",
            ratio=1.0 + (reserve - gap) / max(reserve, 0.1),
            parts=(robot.joint_names[column],),
        )


def joint_gap(robot: Robot, motion: Motion) -> tuple[float, int]:
    """Least distance of any joint from its limits [rad], and the joint's column."""
    lower = np.concatenate([leg.lower for leg in robot.legs.values()])
    upper = np.concatenate([leg.upper for leg in robot.legs.values()])
    gaps = np.minimum(motion.q - lower, upper - motion.q).min(axis=0)
    column = int(gaps.argmin())
    return float(gaps[column]), column


def _balance(robot: Robot, case: Case) -> Iterator[Strain]:
    need = robot.sheet.requirements.stability_margin or 0.0
    least = float(case.loads.margin.min())
    yield Strain(limit="stability margin", ratio=1.0 + (need - least) / max(need, 0.02))
    if not case.loads.feasible.all():
        yield Strain(
            limit="stability" if least < 0.0 else f"grip, coefficient {case.friction:g}",
            ratio=2.0,
        )


def _servo(robot: Robot, case: Case) -> Iterator[Strain]:
    reserve = robot.sheet.requirements.torque_reserve
    drawn = case.draw
    use = reserve / np.maximum(drawn.headroom, 1e-9)
    use = np.where(np.isnan(use), 0.0, use).max(axis=0)
    column = int(use.argmax())
    yield Strain(
        limit=f"torque at speed, {joint_label(robot, column)}",
        ratio=float(use[column]),
        parts=(robot.joint_names[column],),
    )
    limits = np.array([_highest(robot, name) for name in robot.joint_names])
    heated = (drawn.steady_temperature - drawn.ambient) / (limits - drawn.ambient)
    if not np.isnan(heated).all():
        column = int(np.nanargmax(heated))
        yield Strain(
            limit=f"heat, {joint_label(robot, column)}",
            ratio=float(heated[column]),
            parts=(robot.joint_names[column],),
        )


def _highest(robot: Robot, joint: str) -> float:
    servo = robot.servos.get(joint)
    return np.nan if servo is None or servo.highest_winding is None else servo.highest_winding
