"""Do the feet hold the ground?"""

from __future__ import annotations

from collections.abc import Iterator

from legwright.study.bench import Bench
from legwright.study.evidence import Case
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

AREA = "grip"
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
    case = max(cases, key=lambda c: float(c.loads.grip.max()))
    value = float(case.loads.grip.max())
    leg = case.motion.leg_names[int(case.loads.grip.max(axis=0).argmax())]
    return judge(
        AREA,
        name,
        value,
        limit,
        "",
        sense=Sense.AT_MOST,
        parts=(leg,),
        why=f"{leg}, {case.name}: tangential over normal force, forces shared with least effort.",
        source=f"{SOURCE}; limit: requirements.friction",
        cure=f"A foot with a coefficient of at least {value:.2f}, or a gentler slope.",
        missing="State requirements.friction, like 0.6; measure it with a tilting board.",
    )


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
