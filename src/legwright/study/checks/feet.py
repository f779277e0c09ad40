"""Replaceable feet: contact patch, wear, screw."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from legwright.fabrication.foot import (
    ENGAGED,
    SMALL,
    bending_stress,
    patch,
    wear_distance,
)
from legwright.fabrication.parts import parts_of
from legwright.fabrication.screws import THREADS
from legwright.robot.sheet import Foot
from legwright.study.bench import Bench
from legwright.study.cures import at_least
from legwright.study.finding import Finding, Sense, Verdict
from legwright.study.judge import judge
from legwright.study.printing import foot_study

AREA = "foot"
MASS_SHARE = 2.0
"""Difference of mass that changes no verdict elsewhere, in % of the robot's; common practice."""
STUMBLE = 3.0
"""Sideways force of a stumble over the largest grip while walking; our own choice."""
YIELD = 640e6
"""Yield of screws of class 8.8, ISO 898-1 [Pa]."""


def check_feet(bench: Bench) -> Iterator[Finding]:
    """Feet, where the sheet says that they are parts of their own."""
    foot = bench.robot.sheet.foot
    if not (foot.replaceable or foot.modulus or foot.wear or foot.screw):
        return
    radius = _radius(bench)
    load, worst = _largest(bench)
    yield _patch(foot, radius, load, worst)
    yield _wear(bench, foot, radius)
    yield from _screw(foot, radius, load)
    yield from _mass(bench, foot)


def _radius(bench: Bench) -> float | None:
    """Of the feet's rounding [m]."""
    found = bench.robot.sheet.foot.radius
    if found is None:
        found = max(leg.chain.foot_radius for leg in bench.robot.legs.values()) or None
    return found


def _largest(bench: Bench) -> tuple[float, str]:
    """Largest force on a foot [N], and the walk in which it acts."""
    best, name = 0.0, ""
    for case in (*bench.cases.values(), *bench.sloped.values()):
        force = float(np.linalg.norm(case.loads.force, axis=-1).max())
        if force > best:
            best, name = force, case.name
    return best, name


def _patch(foot: Foot, radius: float | None, load: float, worst: str) -> Finding:
    name, source = "contact patch", "Hertz 1882, ball on hard ground; foot.radius, modulus, poisson"
    if radius is None or foot.modulus is None:
        key = 'foot.radius, like "9 mm"' if radius is None else 'foot.modulus, like "4 MPa"'
        return Finding(
            area=AREA, name=name, verdict=Verdict.UNKNOWN, source=source, cure=f"State {key}."
        )
    found = patch(load, radius, foot.modulus, foot.poisson)
    share = found.radius / radius
    why = (
        f"{2e3 * found.radius:.1f} mm across under {load:.0f} N ({worst}), mean "
        f"{found.pressure / 1e6:.2f} MPa, flattened by {1e3 * found.sink:.1f} mm, "
        f"{load / found.sink / 1e3:.1f} N/mm on the way there."
    )
    if foot.stiffness is not None:
        why += f" foot.stiffness says {foot.stiffness / 1e3:.1f} N/mm."
    if foot.sole is not None and found.radius > 0.5 * foot.sole:
        why += " The sole is thinner than the patch is wide: the true patch is smaller."
    if share > SMALL:
        why += f" At {share:.2f} radii the model is a guess."
    return Finding(
        area=AREA,
        name=name,
        verdict=Verdict.PASS,
        value=2e3 * found.radius,
        unit="mm",
        assumed=share > SMALL,
        why=why + " Soft ground makes it larger.",
        source=f"{source}; for information",
    )


def _wear(bench: Bench, foot: Foot, radius: float | None) -> Finding:
    name, source = "foot life", "Archard 1953, V = k F s; foot.wear, slip, worn"
    if foot.wear is None or foot.worn is None or radius is None:
        key = "foot.wear" if foot.wear is None else "foot.worn" if foot.worn is None else "radius"
        return Finding(
            area=AREA,
            name=name,
            verdict=Verdict.UNKNOWN,
            unit="km",
            sense=Sense.AT_LEAST,
            source=source,
            cure=f"State {key}; measure wear on the ground where it walks.",
        )
    means = {
        case.name: float(np.linalg.norm(case.loads.force, axis=-1).mean(axis=0).max())
        for case in bench.cases.values()
    }
    worst = max(means, key=lambda case: means[case])
    life = wear_distance(foot.worn, radius, foot.wear, means[worst], foot.slip)
    said = "k is invented, slip assumed" if foot.wear_invented else "slip is assumed"
    return Finding(
        area=AREA,
        name=name,
        verdict=Verdict.PASS,
        value=life / 1e3,
        unit="km",
        sense=Sense.AT_LEAST,
        assumed=True,
        why=f"Until the hardest loaded foot, {means[worst]:.1f} N on average ({worst}), is flat by "
        f"{foot.worn * 1e3:.1f} mm; {said}. Measured rates scatter tenfold.",
        source=f"{source}; no demand, for information",
    )


def _screw(foot: Foot, radius: float | None, load: float) -> Iterator[Finding]:
    if not foot.screw:
        if foot.replaceable:
            yield Finding(
                area=AREA,
                name="foot screw",
                verdict=Verdict.UNKNOWN,
                source="foot.screw, screw_depth, screw_in",
                cure='State foot.screw, like "M4", screw_depth and screw_in.',
            )
        return
    if foot.screw not in THREADS:
        yield Finding(
            area=AREA,
            name="foot screw",
            verdict=Verdict.FAIL,
            why=f"{foot.screw} is no thread known here.",
            source="foot.screw",
            cure=f"Choose one of {', '.join(THREADS)}.",
        )
        return
    diameter = THREADS[foot.screw].diameter
    wanted = ENGAGED.get(foot.screw_in)
    yield judge(
        AREA,
        "foot screw engagement",
        None if foot.screw_depth is None else foot.screw_depth * 1e3,
        None if wanted is None else wanted * diameter * 1e3,
        "mm",
        sense=Sense.AT_LEAST,
        near=0.0,
        why=f"{foot.screw} in {foot.screw_in}." if foot.screw_in else "",
        source="foot.screw_depth; common practice for the material, no published source",
        cure="" if wanted is None else f"Engage {at_least(wanted * diameter * 1e3, 'mm')}.",
        missing="State foot.screw_depth and foot.screw_in.",
    )
    if radius is None or foot.friction is None:
        return
    side = STUMBLE * foot.friction * load
    stress = bending_stress(foot.screw, side, 2.0 * radius)
    yield judge(
        AREA,
        "foot screw bending",
        stress / 1e6,
        YIELD / 1e6,
        "MPa",
        sense=Sense.AT_MOST,
        why=f"A stumble of {side:.0f} N, {STUMBLE:g} times the grip, at two radii from the thread.",
        source="bending of the stress area; yield of class 8.8, ISO 898-1",
        cure="Take the next larger thread or a shorter foot.",
    )


def _mass(bench: Bench, foot: Foot) -> Iterator[Finding]:
    """What the printed foot weighs against what the description takes it to weigh."""
    parts = parts_of(bench.robot)
    part, printed = parts.foot.part, foot_study(parts)
    if part is None or printed is None or printed.mass is None:
        return
    made = printed.mass.material + part.boss_mass
    stated = None if foot.mass is None else abs(made - foot.mass) * part.count
    boss = f" and {part.boss_mass * 1e3:.1f} g of boss" if part.split else ""
    yield judge(
        AREA,
        "foot mass against the description",
        None if stated is None else 100.0 * stated / bench.robot.mass,
        MASS_SHARE,
        "% of the robot",
        sense=Sense.AT_MOST,
        near=0.0,
        why=f"{printed.mass.material * 1e3:.1f} g of pad{boss} as made, screw left out"
        + (f"; foot.mass says {foot.mass * 1e3:.1f} g." if foot.mass is not None else "."),
        source="foot.mass, foot.process; volume × density",
        cure=f'State foot.mass = "{made * 1e3:.1f} g" and the screw\'s.',
        missing=f'State foot.mass, like "{made * 1e3:.1f} g" and the screw\'s.',
    )
