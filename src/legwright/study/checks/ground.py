"""Does everything but the standing feet stay clear of the ground?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.mechanics.ground_clearance import GroundClearance, ground_clearances
from legwright.study.bench import Bench
from legwright.study.cures import lacking
from legwright.study.evidence import Case
from legwright.study.finding import Finding, Sense
from legwright.study.judge import NEAR, judge

AREA = "ground"
SOURCE = "lowest points of the collision shapes over the ground plane"
CLEAR = 1e-3
"""Less height than this over the obstacle that is asked is a warning [m]."""
Measured = tuple[Case, GroundClearance]


def check_ground(bench: Bench) -> Iterator[Finding]:
    """Trunk and knees over the ground, and the obstacle that a swinging leg clears."""
    for gait in bench.asked.gaits:
        cases = bench.of(gait)
        found = ground_clearances(bench.robot, [case.motion for case in cases])
        measured = list(zip(cases, found, strict=True))
        yield _trunk(bench, gait.name, measured)
        yield _knees(gait.name, measured)
        yield _obstacle(bench, gait.name, measured)


def _trunk(bench: Bench, gait: str, measured: list[Measured]) -> Finding:
    need = bench.robot.sheet.requirements.ground_clearance
    case, found = min(measured, key=lambda pair: pair[1].trunk.height)
    height = found.trunk.height
    near = NEAR * (need or 0.0)
    return judge(
        AREA,
        f"ground clearance, {gait}",
        height * 1e3 if np.isfinite(height) else None,
        None if need is None else need * 1e3,
        "mm",
        sense=Sense.AT_LEAST,
        near=near * 1e3,
        parts=(found.trunk.link,) if found.trunk.link else (),
        why=f"Lowest point of the trunk is on {found.trunk.link}, {case.name}."
        if np.isfinite(height)
        else "The trunk has no shape.",
        source=f"{SOURCE}; requirements.ground_clearance",
        cure=f"Raise the body by {lacking(height, need or 0.0, near)} (stance.body_height), or "
        "make the trunk flatter.",
        missing='State requirements.ground_clearance, like "40 mm".'
        if np.isfinite(height)
        else "Give the body link collision geometry.",
    )


def _knees(gait: str, measured: list[Measured]) -> Finding:
    ranked = [
        (low.height, low.link, leg, case.name)
        for case, found in measured
        for leg, low in found.upper.items()
    ]
    height, link, leg, name = min(ranked)
    return judge(
        AREA,
        f"legs clear the ground, {gait}",
        height * 1e3 if np.isfinite(height) else None,
        0.0,
        "mm",
        sense=Sense.AT_LEAST,
        near=5.0,
        parts=(leg,),
        source=SOURCE,
        why=f"Lowest point above the last joint is on {link}, {name}.",
        cure="Raise the body, or stand with the knees higher.",
        missing="Give the links of the legs collision geometry.",
    )


def _obstacle(bench: Bench, gait: str, measured: list[Measured]) -> Finding:
    need = bench.robot.sheet.requirements.obstacle
    case, found = min(measured, key=lambda pair: pair[1].obstacle)
    height = found.obstacle
    leg = min(
        found.swing,
        key=lambda name: found.swing[name].obstacle if found.swing[name].sample >= 0 else np.inf,
    )
    return judge(
        AREA,
        f"obstacle under a swinging foot, {gait}",
        height * 1e3 if np.isfinite(height) else None,
        None if need is None else need * 1e3,
        "mm",
        sense=Sense.AT_LEAST,
        parts=(leg,),
        near=CLEAR * 1e3,
        why=f"{leg} at the top of its swing, {case.name}.",
        source=f"{SOURCE}; requirements.obstacle",
        cure=f"Lift the feet {lacking(height, need or 0.0, CLEAR)} higher (stance.lift).",
        missing='State requirements.obstacle, like "30 mm".',
    )
