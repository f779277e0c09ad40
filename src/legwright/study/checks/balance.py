"""Does it stay on its feet?"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from legwright.locomotion.stance import Footing
from legwright.mechanics.balance import normalised_energy_margin
from legwright.mechanics.loading import PointMass
from legwright.mechanics.loads import loads, standing
from legwright.mechanics.pose import GRAVITY, still
from legwright.robot.robot import Robot
from legwright.study.bench import Bench, worst
from legwright.study.cures import at_most, speed_for, statically_stable_duty
from legwright.study.evidence import Case
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

AREA = "balance"
MARGIN_SOURCE = "static stability margin (McGhee and Frank 1968)"


def check_balance(bench: Bench) -> Iterator[Finding]:
    """Static margin of each gait, level and on the slope; tipping while probing; energy."""
    for gait in bench.asked.gaits:
        yield _margin(bench, gait.name, bench.of(gait), f"stability margin, {gait.name}")
        if bench.sloped:
            yield _margin(bench, gait.name, bench.sloped_of(gait), f"margin on slope, {gait.name}")
    if not bench.sloped:
        yield Finding(
            area=AREA,
            name="margin on slope",
            verdict=Verdict.UNKNOWN,
            unit="mm",
            sense=Sense.AT_LEAST,
            source=MARGIN_SOURCE,
            why="The sheet names no slope.",
            cure='State requirements.slope, like "12 deg".',
        )
    yield _probing(bench)
    yield _energy(bench)


def _need(bench: Bench) -> tuple[float, str]:
    need = bench.robot.sheet.requirements.stability_margin
    if need is None:
        return 0.0, "0: the sheet asks for no margin, so not tipping is the limit"
    return need * 1e3, "requirements.stability_margin"


def _margin(bench: Bench, gait: str, cases: tuple[Case, ...], name: str) -> Finding:
    least, case = worst(cases, lambda c: float(c.loads.margin.min()))
    at = int(case.loads.margin.argmin())
    need, source = _need(bench)
    down = [
        leg for leg, on in zip(case.motion.leg_names, case.motion.contact[at], strict=True) if on
    ]
    cure = ""
    if least * 1e3 < need:
        cure = _margin_cure(bench, case, need / 1e3)
    return judge(
        AREA,
        name,
        least * 1e3,
        need,
        "mm",
        sense=Sense.AT_LEAST,
        why=f"{case.name}, phase {case.motion.t[at] / case.motion.cycle:.2f}, "
        f"standing on {', '.join(down)}.",
        source=f"{MARGIN_SOURCE}; limit: {source}",
        cure=cure,
        near=2.0,
        parts=tuple(down),
    )


def _margin_cure(bench: Bench, case: Case, need: float) -> str:
    def passes(candidate: Case) -> bool:
        return float(candidate.loads.margin.min()) >= need and candidate.motion.ok

    slower = speed_for(bench, case, passes)
    if slower is not None:
        return f"Slow down to {at_most(slower, '%')} of the asked speed, which keeps the margin."
    duty = statically_stable_duty(bench, case, need)
    if duty is not None:
        return f"Raise the duty factor from {case.walk.gait.duty:.2f} to {duty:.2f}."
    short = need - float(case.loads.margin.min())
    return f"Bring the centre of mass or the feet {short * 1e3:.0f} mm nearer or farther out."


def _probing(bench: Bench) -> Finding:
    """One leg presses on the ground while the others stand: does the robot tip?"""
    wants = bench.robot.sheet.requirements
    name = "margin while probing"
    if wants.probe_push is None:
        return Finding(
            area=AREA,
            name=name,
            verdict=Verdict.UNKNOWN,
            unit="mm",
            sense=Sense.AT_LEAST,
            source=MARGIN_SOURCE,
            why="The sheet names no push.",
            cure='State requirements.probe_push, like "4 N".',
        )
    need, source = _need(bench)
    margins = probing_margins(bench, wants.probe_push)
    worst_leg, least = min(margins.items(), key=lambda pair: pair[1])
    cure = ""
    if least * 1e3 < need:
        cure = _probe_cure(bench, worst_leg, need / 1e3)
    return judge(
        AREA,
        name,
        least * 1e3,
        need,
        "mm",
        sense=Sense.AT_LEAST,
        parts=(worst_leg,),
        why=f"{worst_leg} presses with {wants.probe_push:.3g} N, the others stand.",
        source=f"zero-moment point inside the support polygon (Vukobratović 1972, from memory); "
        f"limit: {source}",
        cure=cure,
        near=2.0,
    )


def probing_margins(bench: Bench, push: float) -> dict[str, float]:
    """Least distance of the ground force's centre from the edges of the other feet's polygon.

    Args:
        bench: The bench.
        push: Force with which one leg after the other presses down [N].

    Returns:
        Probing leg -> margin [m]; the push lifts the robot on that side, so the ground force's
        centre moves away from the probing foot.
    """
    asked = bench.asked
    margins = _probed(bench.robot, bench.footing, asked.payload, asked.friction, push)
    return dict(zip(bench.robot.legs, margins, strict=True))


@lru_cache(maxsize=4)
def _probed(
    robot: Robot, footing: Footing, payload: PointMass | None, friction: float, push: float
) -> tuple[float, ...]:
    """The margins; remembered, since they are told once early and once with all others."""
    legs = np.arange(len(robot.legs))
    weighed = standing(
        robot,
        np.repeat(footing.q[None], len(legs), axis=0),
        contact=legs != legs[:, None],
        payload=payload,
        friction=friction,
        push=(legs, np.array([0.0, 0.0, push])),
    )
    return tuple(weighed.margin.tolist())


def _probe_cure(bench: Bench, leg: str, need: float) -> str:
    low, high = 0.0, bench.robot.sheet.requirements.probe_push or 0.0
    if probing_margins(bench, 0.0)[leg] < need:
        return f"Shift the body away from {leg} before lifting it, or widen the stance."
    for _ in range(20):
        mid = 0.5 * (low + high)
        low, high = (mid, high) if probing_margins(bench, mid)[leg] >= need else (low, mid)
    return f"Press with no more than {at_most(low, 'N')}."


def _energy(bench: Bench) -> Finding:
    """Energy that tips the standing robot, as the height its weight must be lifted."""
    asked = bench.asked
    height = _tipping(bench.robot, bench.footing, asked.payload, asked.friction)
    mass = bench.robot.mass + (asked.payload.mass if asked.payload else 0.0)
    joule = height * mass * GRAVITY
    return judge(
        AREA,
        "energy margin, standing",
        height * 1e3,
        0.0,
        "mm",
        sense=Sense.AT_LEAST,
        near=1.0,
        why=f"Tipping over the weakest edge lifts the centre of mass by this much, {joule:.2f} J.",
        source="energy stability margin (Messuri and Klein 1985; normalised: Hirose 2001)",
        cure="Widen the stance or lower the body.",
    )


@lru_cache(maxsize=4)
def _tipping(robot: Robot, footing: Footing, payload: PointMass | None, friction: float) -> float:
    """How far the centre of mass rises as the standing robot tips [m]; remembered."""
    motion = still(robot, footing.q, np.ones(len(robot.legs), dtype=bool))
    weighed = loads(robot, motion, payload=payload, friction=friction)
    return float(normalised_energy_margin(motion.feet[0], weighed.com[0]))
