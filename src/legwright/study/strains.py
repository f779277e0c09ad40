"""Strains: how hard each limit of a walk is used, in one number each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only
from legwright.study._cycle import Used
from legwright.study.evidence import Case


@dataclass(frozen=True, slots=True, kw_only=True)
class Strain:
    """How hard one limit is used: 1 at the limit, more beyond it."""

    limit: str
    """``femur torque of left-middle``"""
    ratio: float
    parts: tuple[str, ...] = ()


def used_by(robot: Robot, case: Case) -> Used:
    """The numbers that strains are made of, from a walked and weighed case."""
    least = np.nanmin(np.where(np.isnan(case.draw.headroom), np.inf, case.draw.headroom), axis=0)
    return used_up_to(robot, case.motion)._replace(
        whole=True,
        margin=float(case.loads.margin.min()),
        feasible=bool(case.loads.feasible.all()),
        headroom=least,
        steady=case.draw.steady_temperature,
    )


def used_up_to(robot: Robot, motion: Motion) -> Used:
    """The numbers that strains of reach and joint limits are made of; the rest idle."""
    miss = np.where(motion.reached, 0.0, motion.reach_error).max(axis=0)
    leg = int(miss.argmax())
    gap, column = joint_gap(robot, motion)
    joints = len(robot.joint_names)
    return Used(
        plain=True,
        whole=False,
        reached=motion.ok,
        miss=float(miss[leg]),
        missing=leg,
        stretch=float(np.linalg.norm(robot.hips[leg] - motion.feet[0, leg])),
        gap=gap,
        tight=column,
        margin=0.0,
        feasible=True,
        headroom=np.full(joints, np.inf),
        steady=np.full(joints, np.nan),
    )


def reach_strains(robot: Robot, used: Used) -> Iterator[Strain]:
    """Strains of reach and joint limits."""
    if not used.reached:
        name = tuple(robot.legs)[used.missing]
        ratio = 2.0 + used.miss / max(used.stretch, 1e-6)
        yield Strain(limit=f"reach of {name}", ratio=ratio, parts=(name,))
    reserve = robot.sheet.requirements.joint_reserve
    if np.isfinite(used.gap):
        yield Strain(
            limit=f"joint limit, {joint_label(robot, used.tight)}",
            ratio=1.0 + (reserve - used.gap) / max(reserve, 0.1),
            parts=(robot.joint_names[used.tight],),
        )


def all_strains(robot: Robot, used: Used, *, friction: float, ambient: float) -> tuple[Strain, ...]:
    """Every limit of a cycle, the hardest used first.

    Args:
        robot: The robot.
        used: How hard the cycle uses each limit.
        friction: Coefficient that the foot forces were shared with.
        ambient: [K]

    Returns:
        Strains of reach, joint limits, balance, grip, torque and heat.
    """
    found = [
        *reach_strains(robot, used),
        *_balance(robot, used, friction),
        *_servo(robot, used, ambient),
    ]
    return tuple(sorted(found, key=lambda strain: -strain.ratio))


def _balance(robot: Robot, used: Used, friction: float) -> Iterator[Strain]:
    need = robot.sheet.requirements.stability_margin or 0.0
    yield Strain(limit="stability margin", ratio=1.0 + (need - used.margin) / max(need, 0.02))
    if not used.feasible:
        yield Strain(
            limit="stability" if used.margin < 0.0 else f"grip, coefficient {friction:g}",
            ratio=2.0,
        )


def _servo(robot: Robot, used: Used, ambient: float) -> Iterator[Strain]:
    column = int(used.headroom.argmin())
    yield Strain(
        limit=f"torque at speed, {joint_label(robot, column)}",
        ratio=robot.sheet.requirements.torque_reserve / max(float(used.headroom[column]), 1e-9),
        parts=(robot.joint_names[column],),
    )
    heated = (used.steady - ambient) / (_highest(robot) - ambient)
    if not np.isnan(heated).all():
        column = int(np.nanargmax(heated))
        yield Strain(
            limit=f"heat, {joint_label(robot, column)}",
            ratio=float(heated[column]),
            parts=(robot.joint_names[column],),
        )


@lru_cache(maxsize=4)
def _highest(robot: Robot) -> Floats:
    """Highest winding temperatures, (J,) [K]; nan where not known."""
    servos = [robot.servos.get(joint) for joint in robot.joint_names]
    limits = [None if servo is None else servo.highest_winding for servo in servos]
    return read_only(np.array([np.nan if limit is None else limit for limit in limits]))


def joint_gap(robot: Robot, motion: Motion) -> tuple[float, int]:
    """Least distance of any joint from its limits [rad], and the joint's column."""
    lower = np.concatenate([leg.lower for leg in robot.legs.values()])
    upper = np.concatenate([leg.upper for leg in robot.legs.values()])
    gaps = np.minimum(motion.q - lower, upper - motion.q).min(axis=0)
    column = int(gaps.argmin())
    return float(gaps[column]), column


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
