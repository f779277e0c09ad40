"""Can the feet go where the gaits want them?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.mechanics.reach import reach_feet
from legwright.mechanics.workspace import least_reserve
from legwright.robot.leg import Reach
from legwright.study.bench import Bench
from legwright.study.cures import at_most, speed_for
from legwright.study.evidence import Case
from legwright.study.finding import Finding, Sense
from legwright.study.judge import judge
from legwright.study.strains import joint_gap, joint_label

AREA = "reach"
THINNED = 4
"""Every so many samples of a cycle are asked for their reach reserve."""


def check_reach(bench: Bench) -> Iterator[Finding]:
    """Joint limits and reach reserve through every gait."""
    for gait in bench.asked.gaits:
        cases = (*bench.of(gait), *bench.sloped_of(gait))
        yield _reached(bench, gait.name, cases)
        yield _joints(bench, gait.name, cases)
        yield _reserve(bench, gait.name, bench.of(gait))


def _missed(case: Case) -> float:
    if case.motion.ok:
        return 0.0
    return float(np.where(case.motion.reached, 0.0, case.motion.reach_error).max())


def _reached(bench: Bench, gait: str, cases: tuple[Case, ...]) -> Finding:
    case = max(cases, key=_missed)
    miss = np.where(case.motion.reached, 0.0, case.motion.reach_error)
    at, leg = np.unravel_index(int(miss.argmax()), miss.shape)
    name = case.motion.leg_names[leg]
    value = float(miss[at, leg])
    cure = ""
    if value > 0.0:
        slower = speed_for(bench, case, lambda c: c.motion.ok)
        cure = (
            f"Walk at {at_most(slower, '%')} of the asked speed."
            if slower is not None
            else "Change stance.body_height or stance.foot_distance, or lengthen the leg."
        )
    return judge(
        AREA,
        f"feet reach, {gait}",
        value * 1e3,
        0.0,
        "mm",
        sense=Sense.AT_MOST,
        near=0.0,
        parts=(name,) if value else (),
        cure=cure,
        why=f"{name} misses its path, {case.name}."
        if value
        else "Every foot reaches every point of its path, in every direction asked.",
        source="inverse kinematics inside the joint limits",
    )


def _joints(bench: Bench, gait: str, cases: tuple[Case, ...]) -> Finding:
    reserve = bench.robot.sheet.requirements.joint_reserve
    case = min(cases, key=lambda c: joint_gap(bench.robot, c.motion)[0])
    gap, column = joint_gap(bench.robot, case.motion)
    cure = ""
    if gap < reserve:
        slower = speed_for(bench, case, lambda c: joint_gap(bench.robot, c.motion)[0] >= reserve)
        short = np.degrees(reserve - gap)
        cure = f"Let the joint travel {short:.0f}° farther"
        cure += f", or walk at {at_most(slower, '%')} of the speed." if slower is not None else "."
    return judge(
        AREA,
        f"joint limits, {gait}",
        float(np.degrees(gap)),
        float(np.degrees(reserve)),
        "°",
        sense=Sense.AT_LEAST,
        near=2.0,
        parts=(bench.robot.joint_names[column],),
        cure=cure,
        why=f"{joint_label(bench.robot, column)} comes nearest to its stop, {case.name}.",
        source="URDF joint limits; requirements.joint_reserve",
    )


def _reserve(bench: Bench, gait: str, cases: tuple[Case, ...]) -> Finding:
    limit = bench.robot.sheet.requirements.reach_reserve
    least, name, where = np.inf, "", ""
    robot = bench.robot
    for case in cases:
        feet = case.motion.feet[::THINNED]
        held = reach_feet(robot, feet)
        for index, leg in enumerate(robot.legs.values()):
            own = held.q[:, robot.columns[leg.name]], held.error[:, index], held.ok[:, index]
            reserve = least_reserve(leg, feet[:, index], least, Reach(*own))
            if reserve < least:
                least, name, where = reserve, leg.name, case.name
    return judge(
        AREA,
        f"reach reserve, {gait}",
        least * 1e3,
        None if limit is None else limit * 1e3,
        "mm",
        sense=Sense.AT_LEAST,
        parts=(name,),
        why=f"{name}, {where}: distance from its path to the edge of what it can reach.",
        source="boundary of the reachable region inside the joint limits; "
        "requirements.reach_reserve",
        cure="Walk slower, stand nearer to the middle of the region, or lengthen the leg.",
        missing='State requirements.reach_reserve, like "10 mm".',
    )
