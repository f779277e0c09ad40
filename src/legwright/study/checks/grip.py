"""Do the feet hold the ground?"""

from __future__ import annotations

from collections.abc import Iterator

from legwright.mechanics.loads import balance_of
from legwright.study.bench import Bench
from legwright.study.cures import at_least
from legwright.study.evidence import Case
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

AREA = "grip"
MOST = 3.0
"""Coefficients above this are not looked for."""

HALVINGS = 7
SOURCE = "friction cone of each foot (Bretl and Lall 2008)"


def check_grip(bench: Bench) -> Iterator[Finding]:
    """Tangential over normal force at every foot, level and on the slope; no foot pulls."""
    for gait in bench.asked.gaits:
        yield _foot_forces(bench, gait.name, (*bench.of(gait), *bench.sloped_of(gait)))
        yield _grip(bench, f"foot grip, {gait.name}", bench.of(gait))
        if bench.sloped:
            yield _grip(bench, f"foot grip on slope, {gait.name}", bench.sloped_of(gait))
    if not bench.sloped:
        yield Finding(
            area=AREA,
            name="foot grip on slope",
            verdict=Verdict.UNKNOWN,
            source=SOURCE,
            why="The sheet names no slope.",
            cure='State requirements.slope, like "12 deg".',
        )


def _grip(bench: Bench, name: str, cases: tuple[Case, ...]) -> Finding:
    limit = bench.robot.sheet.requirements.friction
    value, worst = 0.0, ""
    for case in cases:
        needed = friction_needed(bench, case, least=value)
        if needed > value or not worst:
            value, worst = needed, case.name
    return judge(
        AREA,
        name,
        value if value <= MOST else None,
        limit,
        "",
        sense=Sense.AT_MOST,
        why=f"{worst}: the least coefficient with which foot forces can balance the robot."
        if value <= MOST
        else f"{worst}: no coefficient helps, see the stability margin.",
        source=f"{SOURCE}; limit: requirements.friction",
        cure=f"Feet with a coefficient of at least {at_least(value)}, or a gentler slope.",
        missing="State requirements.friction, like 0.6; measure it with a tilting board."
        if value <= MOST
        else "Cure the stability margin first.",
    )


def friction_needed(bench: Bench, case: Case, *, least: float = 0.0) -> float:
    """The least coefficient of friction that lets the stance feet balance the robot.

    Args:
        bench: The bench.
        case: A walked gait.
        least: Smaller coefficients are not looked for.

    Returns:
        `least` or more: coefficient, to 1 part in 200; more than `MOST` when none helps.
    """
    holds = balance_of(case.motion, case.loads)
    if least > 0.0 and holds(least):
        return least
    low, high = least, max(bench.asked.friction, 1.1 * least)
    while not holds(high):
        low, high = high, 2.0 * high
        if low > MOST:
            return low
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def _foot_forces(bench: Bench, gait: str, cases: tuple[Case, ...]) -> Finding:
    share = {case.name: float(case.loads.feasible.mean()) * 100 for case in cases}
    name = min(share, key=lambda key: share[key])
    return judge(
        AREA,
        f"feet only push, {gait}",
        share[name],
        100.0,
        "% of cycle",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=f"{name}: share of the cycle in which feet that only push, with a coefficient of "
        f"{bench.asked.friction:g}, balance the robot.",
        source=SOURCE,
        cure="See the stability margin: where it is negative, no foot force can balance.",
    )
