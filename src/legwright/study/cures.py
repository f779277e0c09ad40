"""Cures: how far something must change before a failing limit holds, found by trying."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from legwright.locomotion.gait import wave_family
from legwright.locomotion.walk import Walk
from legwright.mechanics.draw import draw
from legwright.mechanics.loading import PointMass
from legwright.mechanics.loads import loads
from legwright.study.bench import Bench
from legwright.study.evidence import Case
from legwright.study.trial import COARSE, pace, trial

Passes = Callable[[Case], bool]
"""Whether a case keeps the limit in question."""

HALVINGS = 9
"""Steps of a bisection: 1 part in 512."""


def at_most(value: float, unit: str = "") -> str:
    """A value rounded down, so that the advice holds: two digits, three from 1 on.

    Args:
        value: The largest value that holds, >= 0.
        unit: Its unit; ``%`` takes a share.
    """
    if unit == "%":
        return f"{int(100 * value)} %"
    step = 10.0 ** (np.floor(np.log10(value)) - (2 if value >= 1.0 else 1)) if value > 0 else 1.0
    return f"{np.floor(value / step + 1e-9) * step:.3g} {unit}".rstrip()


def at_least(value: float, unit: str = "") -> str:
    """A value rounded up to three digits, so that the advice holds."""
    step = 10.0 ** (np.floor(np.log10(value)) - 2) if value > 0 else 1.0
    return f"{np.ceil(value / step - 1e-9) * step:.3g} {unit}".rstrip()


def lacking(value: float, limit: float, near: float) -> str:
    """What lifts a value to its lower limit and out of the band where a pass is a warning.

    Args:
        value: As it is [m].
        limit: It is to keep [m].
        near: Width of the band [m].

    Returns:
        The way up, rounded up, in millimetres; never negative.
    """
    return at_least(max(limit + near - value, 0.0) * 1e3, "mm")


def last_that_holds(low: float, high: float, holds: Callable[[float], bool]) -> float | None:
    """The largest value for which a limit holds, when it fails at ``high``.

    Args:
        low: Smallest value of interest.
        high: Value at which the limit fails.
        holds: Whether the limit holds at a value; taken to change once between the two.

    Returns:
        A value that holds, within (high - low) / 2**HALVINGS of the edge; None when the limit
        fails at ``low`` already.
    """
    if not holds(low):
        return None
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if holds(middle):
            low = middle
        else:
            high = middle
    return low


def speed_for(bench: Bench, case: Case, passes: Passes) -> float | None:
    """The share of a case's speed at which a limit holds.

    Args:
        bench: The bench.
        case: The failing case.
        passes: Whether a case keeps the limit.

    Returns:
        Share in (0, 1), or None when even a crawl fails: at the case's cycle time and, where
        the sheet leaves that open, at the calmest one.
    """
    vx, vy = case.walk.velocity
    turn = case.walk.turn

    def at(share: float) -> Walk:
        return replace(case.walk, velocity=(vx * share, vy * share), turn=turn * share)

    def holds(share: float) -> bool:
        return passes(trial(bench.robot, bench.asked, at(share), payload=bench.asked.payload))

    def holds_at_another_pace(share: float) -> bool:
        paced = pace(bench.robot, bench.asked, at(share), payload=bench.asked.payload)
        return passes(trial(bench.robot, bench.asked, paced, payload=bench.asked.payload))

    kept = last_that_holds(0.05, 1.0, holds)
    if kept is None and bench.robot.sheet.stance.cycle is None:
        return last_that_holds(0.05, 1.0, holds_at_another_pace)
    return kept


def payload_for(bench: Bench, case: Case, passes: Passes) -> float | None:
    """The largest payload with which a limit holds [kg], or None when it fails even without."""
    carried = bench.asked.payload
    if carried is None:
        return None

    every = (case, *bench.cases.values(), *bench.sloped.values())
    failing = [one for one in every if not passes(one)]

    def of(one: Case, mass: float) -> bool:
        lighter = PointMass(mass=mass, at=carried.at)
        weighed = loads(bench.robot, one.motion, payload=lighter, friction=bench.asked.friction)
        drawn = draw(
            bench.robot,
            one.motion,
            weighed,
            voltage=bench.asked.voltage,
            ambient=bench.asked.ambient,
        )
        return passes(replace(one, loads=weighed, draw=drawn))

    def paced(one: Case, mass: float) -> bool:
        lighter = PointMass(mass=mass, at=carried.at)
        walk = pace(bench.robot, bench.asked, one.walk, payload=lighter)
        return passes(trial(bench.robot, bench.asked, walk, payload=lighter))

    found = last_that_holds(0.0, carried.mass, lambda mass: all(of(c, mass) for c in failing))
    level = [one for one in failing if not one.walk.slope]
    if found is None or all(paced(one, found) for one in level):
        return found
    return last_that_holds(0.0, found, lambda mass: all(paced(c, mass) for c in level))


def statically_stable_duty(bench: Bench, case: Case, need: float) -> float | None:
    """The smallest duty factor of the wave-gait family that keeps a stability margin.

    Args:
        bench: The bench.
        case: The failing case.
        need: Required margin [m].

    Returns:
        Duty factor, a twelfth at a time, or None when none up to 11/12 does.
    """
    count = len(bench.robot.legs)
    for twelfths in range(6, 12):
        duty = twelfths / 12
        if duty <= case.walk.gait.duty:
            continue
        walk = replace(case.walk, gait=wave_family(count, duty))
        tried = trial(bench.robot, bench.asked, walk, payload=bench.asked.payload, samples=COARSE)
        if tried.motion.ok and float(tried.loads.margin.min()) >= need:
            return duty
    return None
