"""Is it a legged robot, whole and alike?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.robot.leg import Leg
from legwright.robot.robot import Robot
from legwright.study.bench import Bench
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge
from legwright.study.on_grid import SAME, on_grid

AREA = "build"
LEAST_LEGS = 3
"""Fewer feet make no support polygon."""
LONGEST = 5.0
"""A longer leg is taken for one whose millimetres were written as metres [m]; the sheet's own
bound of lengths."""


def check_build(bench: Bench) -> Iterator[Finding]:
    """Legs found, legs alike, servos known, mass accounted for."""
    robot = bench.robot
    yield judge(
        AREA,
        "legs found",
        float(len(robot.legs)),
        float(LEAST_LEGS),
        "legs",
        sense=Sense.AT_LEAST,
        near=0.0,
        parts=tuple(robot.legs),
        why=f"{', '.join(robot.legs)}; body link '{robot.body}'.",
        source="a support polygon needs three feet (McGhee and Frank 1968)",
        cure="Name the missing legs in [legs], or check joint types and limits in the URDF.",
    )
    yield from _size(robot)
    yield _alike(robot)
    yield _servos(robot)
    yield _mass(robot)
    yield from _round(bench)
    for name, why in bench.asked.refused.items():
        yield Finding(
            area=AREA,
            name=f"gait {name}",
            verdict=Verdict.FAIL,
            why=why,
            source="requirements.gaits",
            cure="Remove it from requirements.gaits.",
        )


def _length(leg: Leg) -> float:
    chain = leg.chain
    hops = np.linalg.norm(chain.placements[1:, :3, 3], axis=1)
    return float(hops.sum() + np.linalg.norm(chain.foot))


def _size(robot: Robot) -> Iterator[Finding]:
    """Told only where it is odd."""
    lengths = {name: _length(leg) for name, leg in robot.legs.items()}
    name = max(lengths, key=lengths.__getitem__)
    if lengths[name] <= LONGEST:
        return
    yield judge(
        AREA,
        "size of the legs",
        lengths[name],
        LONGEST,
        "m",
        sense=Sense.AT_MOST,
        parts=(name,),
        why=f"{name} is {lengths[name]:.4g} m long, hip to foot along the links.",
        source="URDF lengths are metres; legs of walking robots are shorter",
        cure="If the URDF was drawn in millimetres, divide its lengths by 1000 (xyz, sizes, mesh "
        "scale) and its inertias by 1 000 000; everything else here follows from them.",
    )


def _alike(robot: Robot) -> Finding:
    lengths = {name: _length(leg) for name, leg in robot.legs.items()}
    middle = float(np.median(list(lengths.values())))
    odd = max(lengths, key=lambda name: abs(lengths[name] - middle))
    spread = abs(lengths[odd] - middle) / middle * 100
    counts = {leg.n for leg in robot.legs.values()}
    why = f"Hip to foot along the links: {middle * 1e3:.1f} mm."
    if spread > 0.05:
        why = f"{odd} is {lengths[odd] * 1e3:.1f} mm long, the others {middle * 1e3:.1f} mm."
    if len(counts) > 1:
        why += f" Drives a leg: {', '.join(str(n) for n in sorted(counts))}."
    return judge(
        AREA,
        "legs alike",
        spread,
        5.0,
        "%",
        sense=Sense.AT_MOST,
        why=why,
        near=4.0,
        parts=(odd,) if spread > 0.05 else (),
        source="unlike legs share load unevenly; common practice, no published source",
        cure=f"Make {odd} {middle * 1e3:.1f} mm long, or accept the uneven load.",
    )


def _servos(robot: Robot) -> Finding:
    bare = [name for name in (*robot.joint_names, *robot.held) if robot.servos.get(name) is None]
    total = len(robot.joint_names) + len(robot.held)
    return judge(
        AREA,
        "drives with a servo",
        float(total - len(bare)) if not bare else None,
        float(total),
        "joints",
        sense=Sense.AT_LEAST,
        near=0.0,
        parts=tuple(bare),
        why=f"No servo for {', '.join(bare)}." if bare else "Every driven joint has one.",
        source="fit",
        missing="Add the joint to [fit], with a servo from [servo.NAME].",
    )


def _mass(robot: Robot) -> Finding:
    light = [
        name
        for leg in robot.legs.values()
        for name, solid in zip(leg.chain.link_names, leg.chain.solids, strict=True)
        if solid.mass <= 0.0
    ]
    return judge(
        AREA,
        "mass accounted for",
        robot.mass if not light and robot.trunk.mass > 0 else None,
        0.0,
        "kg",
        sense=Sense.AT_LEAST,
        near=0.0,
        parts=tuple(light),
        why=f"Without mass: {', '.join(light) or robot.body}."
        if light or robot.trunk.mass <= 0
        else f"Trunk {robot.trunk.mass:.2f} kg, legs {robot.mass - robot.trunk.mass:.2f} kg.",
        source="URDF inertial elements",
        missing="Give these links an <inertial> element in the URDF.",
    )


def _round(bench: Bench) -> Iterator[Finding]:
    """Where the sheet says which dimensions are wanted round: which are not."""
    stated = bench.robot.sheet.rounding.model_fields_set
    if stated.isdisjoint({"grid", "angle", "grids"}):
        return
    found = on_grid(bench.robot, bench.footing)
    if found is None:
        return
    odd = [one for one in found.dimensions if one.off is not None and abs(one.off) > SAME]
    words = "; ".join(f"{one.key} beside its {one.grid}" for one in odd)
    yield Finding(
        area=AREA,
        name="dimensions off the grid",
        verdict=Verdict.WARN if odd else Verdict.PASS,
        value=float(len(odd)),
        limit=0.0,
        unit=f"of {len(found.dimensions)}",
        sense=Sense.AT_MOST,
        why=f"{words}." if odd else "All lie on it, or are pinned.",
        source="rounding.grid, angle, grids; positions of the legs' axes",
        cure="legwright round says which round layout loses least, and what each rounding costs."
        if odd
        else "",
    )
