"""Strains: how hard each limit of a walk is used, in one number each."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.robot.tree import Floats, read_only
from legwright.study._cycle import Used
from legwright.study.evidence import Case

ALIKE = 1e-6
"""What differs by this share less is the same, and rounding does not say which is named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strain:
    """How hard one limit is used: 1 at the limit, more beyond it."""

    limit: str
    """``femur torque of left-middle``"""
    ratio: float
    parts: tuple[str, ...] = ()
    exact: Callable[[], Strain] | None = None
    """Weighs to the end a walk of which no more is known than that it passes a limit: its ratio
    is this or more."""


def used_by(robot: Robot, case: Case) -> Used:
    """The numbers that strains are made of, from a walked and weighed case."""
    least = np.nanmin(np.where(np.isnan(case.draw.headroom), np.inf, case.draw.headroom), axis=0)
    steady, around = case.draw.steady_temperature, case.draw.ambient
    heated = (steady - around) / (_highest(robot) - around)
    hottest = -1 if np.isnan(heated).all() else int(np.nanargmax(heated))
    return used_up_to(robot, case.motion)._replace(
        whole=True,
        margin=float(case.loads.margin.min()),
        feasible=bool(case.loads.feasible.all()),
        headroom=least,
        weakest=int(least.argmin()),
        steady=steady,
        hottest=hottest,
        heated=float(heated[hottest]) if hottest >= 0 else np.nan,
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
        margin=math.inf,
        feasible=True,
        headroom=np.full(joints, np.inf),
        weakest=0,
        steady=np.full(joints, np.nan),
        hottest=-1,
        heated=np.nan,
    )


def ratios(robot: Robot, used: Used) -> tuple[float, ...]:
    """How hard a cycle strains each limit, in the order of `strain_of`.

    Args:
        robot: The robot.
        used: How hard the cycle uses each limit.

    Returns:
        Reach, joint limits, balance, grip, torque and heat; -inf where there is no strain or
        none is known.
    """
    wants = robot.sheet.requirements
    reserve, need = wants.joint_reserve, wants.stability_margin or 0.0
    return (
        -math.inf if used.reached else 2.0 + used.miss / max(used.stretch, 1e-6),
        1.0 + (reserve - used.gap) / max(reserve, 0.1),
        1.0 + (need - used.margin) / max(need, 0.02),
        -math.inf if used.feasible else 2.0,
        wants.torque_reserve / max(float(used.headroom[used.weakest]), 1e-9),
        used.heated if used.hottest >= 0 else -math.inf,
    )


def strain_of(robot: Robot, used: Used, limit: int, ratio: float, friction: float) -> Strain:
    """One limit of a cycle in words.

    Args:
        robot: The robot.
        used: How hard the cycle uses each limit.
        limit: Its place among the `ratios`.
        ratio: And its ratio.
        friction: Coefficient that the foot forces were shared with.
    """
    if limit == 0:
        name = tuple(robot.legs)[used.missing]
        return Strain(limit=f"reach of {name}", ratio=ratio, parts=(name,))
    if limit == 2:
        return Strain(limit="stability margin", ratio=ratio)
    if limit == 3:
        stable = used.margin >= 0.0
        return Strain(
            limit=f"grip, coefficient {friction:g}" if stable else "stability", ratio=ratio
        )
    words, column = {
        1: ("joint limit", used.tight),
        4: ("torque at speed", _first_weakest(used)),
        5: ("heat", _first_hottest(robot, used)),
    }[limit]
    return Strain(
        limit=f"{words}, {joint_label(robot, column)}",
        ratio=ratio,
        parts=(robot.joint_names[column],),
    )


def _first_weakest(used: Used) -> int:
    """The first drive that has as little headroom as the weakest: mirrored legs are alike."""
    alike = used.headroom <= used.headroom[used.weakest] * (1.0 + ALIKE)
    return int(alike.argmax()) if alike.any() else used.weakest


def _first_hottest(robot: Robot, used: Used) -> int:
    """The first drive whose winding is as hot, against the same limit, as the hottest."""
    hottest, limits = used.hottest, _highest(robot)
    alike = used.steady >= used.steady[hottest] * (1.0 - ALIKE)
    alike &= limits == limits[hottest]
    return int(alike.argmax()) if alike.any() else hottest


@lru_cache(maxsize=4)
def _highest(robot: Robot) -> Floats:
    """Highest winding temperatures, (J,) [K]; nan where not known."""
    servos = [robot.servos.get(joint) for joint in robot.joint_names]
    limits = [None if servo is None else servo.highest_winding for servo in servos]
    return read_only(np.array([np.nan if limit is None else limit for limit in limits]))


def joint_gap(robot: Robot, motion: Motion) -> tuple[float, int]:
    """Least distance of any joint from its limits [rad], and the joint's column."""
    gaps = np.minimum(motion.q.min(axis=0) - robot.lower, robot.upper - motion.q.max(axis=0))
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
