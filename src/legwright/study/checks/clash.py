"""Do links that are not neighbours stay clear of each other?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.mechanics.clearance import clearance, range_clearance
from legwright.robot.robot import Robot
from legwright.study.bench import Bench
from legwright.study.cures import lacking
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge

AREA = "clash"
SOURCE = "distance of convex shapes; neighbours left out"
THINNED = 2
"""Every so many samples of a cycle are measured."""
NEAR = 1e-3
"""Less room than this beyond what is asked is a warning [m]."""


def check_clash(bench: Bench) -> Iterator[Finding]:
    """Least distance between links through every gait."""
    for gait in bench.asked.gaits:
        yield _gait(bench, gait.name)


def check_ranges(bench: Bench) -> Iterator[Finding]:
    """Least distance between links over the joint ranges."""
    yield _ranges(bench.robot)


def _need(bench: Bench) -> tuple[float, str]:
    need = bench.robot.sheet.requirements.link_clearance
    if need is None:
        return 0.0, "0: the sheet asks for no clearance, so touching is the limit"
    return need, "requirements.link_clearance"


def _gait(bench: Bench, gait: str) -> Finding:
    need, source = _need(bench)
    cases = bench.of(gait)
    poses = np.concatenate([case.motion.q[::THINNED] for case in cases])
    found = clearance(bench.robot, poses)
    near = found.nearest
    if near is None:
        return _shapeless(f"link clearance, {gait}")
    each = len(cases[0].motion.q[::THINNED])
    case, at = cases[near.sample // each], near.sample % each
    where = f"{near.links[0]} and {near.links[1]}, {case.name}, phase {at / each:.2f}"
    return judge(
        AREA,
        f"link clearance, {gait}",
        near.distance * 1e3,
        need * 1e3,
        "mm",
        sense=Sense.AT_LEAST,
        near=NEAR * 1e3,
        parts=near.links,
        why=f"Nearest: {where}.",
        source=f"{SOURCE}; limit: {source}",
        cure=f"Move {near.links[0]} and {near.links[1]} "
        f"{lacking(near.distance, need, NEAR)} farther apart: "
        "a shorter stroke, other foot places, or slimmer links.",
    )


def _ranges(robot: Robot) -> Finding:
    """Information, not a demand: most legs can be commanded into each other."""
    found = range_clearance(robot)
    near = found.nearest
    name = "link clearance, whole joint ranges"
    if near is None:
        return _shapeless(name)
    degrees = ", ".join(
        f"{joint} {np.degrees(angle):.0f}°"
        for joint, angle in zip(robot.joint_names, near.q, strict=True)
        if _concerns(robot, joint, near.links)
    )
    apart = near.distance >= 0.0
    return Finding(
        area=AREA,
        name=name,
        verdict=Verdict.PASS,
        value=near.distance * 1e3,
        unit="mm",
        sense=Sense.AT_LEAST,
        parts=near.links,
        source=f"{SOURCE}; random poses, then a descent; no demand, for information",
        why=f"{near.links[0]} and {near.links[1]}"
        + (" stay apart." if apart else f" can be driven into each other by hand, at {degrees}."),
    )


def _concerns(robot: Robot, joint: str, links: tuple[str, str]) -> bool:
    for leg in robot.legs.values():
        if joint in leg.joint_names and set(links) & {*leg.chain.link_names, leg.chain.foot_link}:
            return True
    return False


def _shapeless(name: str) -> Finding:
    return Finding(
        area=AREA,
        name=name,
        verdict=Verdict.UNKNOWN,
        unit="mm",
        sense=Sense.AT_LEAST,
        source=SOURCE,
        why="Fewer than two links that are not neighbours have a shape.",
        cure="Give the links collision geometry.",
    )
