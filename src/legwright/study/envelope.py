"""The envelope: how far speed, payload, slope and body height go, and what stops each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from legwright.errors import LegwrightError
from legwright.locomotion.gait import Gait
from legwright.locomotion.stance import Footing, footing
from legwright.locomotion.walk import Walk
from legwright.mechanics.loading import PointMass
from legwright.study.asked import Twist
from legwright.study.bench import SLOPE_HEADINGS, Bench
from legwright.study.evidence import Extent
from legwright.study.strains import Strain
from legwright.study.trial import cycles, hardest

HALVINGS = 7
"""Steps of each bisection."""

NEAR_MISS = 1.5
"""A limit passed by less than this at rest may be kept in motion."""

BEYOND_REST = (4.0, 2.0, 0.75, 0.5, 0.25)
"""Multiples of the first speed that are tried then."""

WAYS: dict[str, Twist] = {
    "forward": (1.0, 0.0, 0.0),
    "sideways": (0.0, 1.0, 0.0),
    "turning": (0.0, 0.0, 1.0),
}

Probe = Callable[[float], Strain]
"""The hardest strain at a value of the quantity that is pushed."""


def frontier(probe: Probe, start: float, most: float) -> tuple[float, Strain]:
    """The largest value at which no limit is passed.

    Args:
        probe: The hardest strain at a value.
        start: First value tried, > 0; doubled while it holds.
        most: Largest value of interest.

    Returns:
        The value (0 when nothing holds, ``most`` when all does) and the strain that stops the
        next larger value tried.
    """
    low, high = 0.0, start
    stop = probe(high)
    while stop.ratio <= 1.0:
        low = high
        if high >= most:
            return most, stop
        high = min(2.0 * high, most)
        stop = probe(high)
    if low == 0.0 and probe(1e-3 * start).ratio > 1.0:
        return 0.0, probe(1e-3 * start)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        strain = probe(middle)
        if strain.ratio <= 1.0:
            low = middle
        else:
            high, stop = middle, strain
    return low, stop


def fastest(probe: Probe, start: float, most: float) -> tuple[float, Strain]:
    """As `frontier`, for speeds: stepping on the spot can be hotter than walking on.

    Where a limit is narrowly passed near rest, faster values are tried before 0 is the answer.

    Args:
        probe: The hardest strain at a speed.
        start: First speed tried, > 0.
        most: Largest speed of interest.

    Returns:
        As `frontier`.
    """
    top, stop = frontier(probe, start, most)
    if top > 0.0 or stop.ratio >= NEAR_MISS:
        return top, stop
    for share in BEYOND_REST:
        if share * start <= most and probe(share * start).ratio <= 1.0:
            return frontier(probe, share * start, most)
    return top, stop


def envelope(bench: Bench, progress: Callable[[str, int, int], None]) -> Iterator[Extent]:
    """All edges of the envelope.

    Args:
        bench: The bench.
        progress: Told what is being done, how many are done, of how many.

    Yields:
        Top speeds per gait and way, then largest payload, steepest slope, lowest and highest
        body.
    """
    total = len(bench.asked.gaits) * (len(WAYS) + 2) + 2
    done = 0
    for gait in bench.asked.gaits:
        for way in WAYS:
            progress("envelope", done, total)
            yield _top_speed(bench, gait, way)
            done += 1
        progress("envelope", done, total)
        yield _payload(bench, gait)
        yield _slope(bench, gait)
        done += 2
    progress("envelope", done, total)
    yield from _heights(bench)


def _top_speed(bench: Bench, gait: Gait, way: str) -> Extent:
    unit = WAYS[way]
    asked = bench.asked
    speeds = asked.speeds[gait.name]
    radius = float(np.median(np.hypot(*bench.footing.feet[:, :2].T)))
    required = {
        "forward": speeds.forward if speeds.forward_asked else None,
        "sideways": speeds.sideways,
        "turning": speeds.turn,
    }[way]
    start = required or (speeds.forward / radius if way == "turning" else speeds.forward)
    ladder = list(cycles(bench.robot, gait))

    def probe(speed: float) -> Strain:
        twist = (unit[0] * speed, unit[1] * speed, unit[2] * speed)
        best: Strain | None = None
        for cycle in list(ladder):
            walk = Walk(gait, velocity=twist[:2], turn=twist[2], cycle=cycle, footing=bench.footing)
            strain = hardest(bench.robot, asked, walk, payload=asked.payload)
            if best is None or strain.ratio < best.ratio:
                best = strain
            if strain.ratio <= 1.0:
                ladder.remove(cycle)  # what held once is tried first next time
                ladder.insert(0, cycle)
                break
        return best or Strain(limit="nothing", ratio=0.0)

    top, stop = fastest(probe, start, 64.0 * start)
    if way != "forward" and top > 0.0 and (other := probe(-top)).ratio > 1.0:
        # the other side is the weaker one: robot, payload or gait are not alike left and right
        stop = other
        top, found = fastest(lambda speed: probe(-speed), min(start, top), top)
        stop = found if found.ratio > 1.0 else stop
    scale, label = (180.0 / np.pi, "°/s") if way == "turning" else (1.0, "m/s")
    return Extent(
        name=f"top speed {way}",
        gait=gait.name,
        value=top * scale,
        unit=label,
        stopped_by=stop.limit,
        parts=stop.parts,
        required=None if required is None else required * scale,
    )


def _payload(bench: Bench, gait: Gait) -> Extent:
    wants = bench.robot.sheet.requirements
    at = np.array(wants.payload_at)
    cases = list(bench.of(gait))

    def probe(mass: float) -> Strain:
        carried = PointMass(mass=mass, at=at)
        most = Strain(limit="nothing", ratio=0.0)
        for case in list(cases):
            strain = hardest(bench.robot, bench.asked, case.walk, payload=carried)
            most = max((most, strain), key=lambda one: one.ratio)
            if strain.ratio > 1.0:
                cases.remove(case)  # what failed once is tried first next time
                cases.insert(0, case)
                break
        return most

    start = wants.payload or 0.1 * bench.robot.mass
    most, stop = frontier(probe, start, 20.0 * bench.robot.mass)
    return Extent(
        name="largest payload",
        gait=gait.name,
        value=most,
        unit="kg",
        stopped_by=stop.limit,
        parts=stop.parts,
        required=wants.payload,
    )


def _slope(bench: Bench, gait: Gait) -> Extent:
    case = bench.cases[f"{gait.name} forward"]
    payload = bench.asked.payload

    def probe(slope: float) -> Strain:
        found = [
            hardest(
                bench.robot,
                bench.asked,
                replace(case.walk, slope=slope, uphill=uphill),
                payload=payload,
            )
            for uphill in SLOPE_HEADINGS.values()
        ]
        return max(found, key=lambda strain: strain.ratio)

    required = bench.robot.sheet.requirements.slope
    most, stop = frontier(probe, required or np.radians(5.0), np.radians(60.0))
    return Extent(
        name="steepest slope",
        gait=gait.name,
        value=float(np.degrees(most)),
        unit="°",
        stopped_by=stop.limit,
        parts=stop.parts,
        required=None if required is None else float(np.degrees(required)),
    )


def _heights(bench: Bench) -> Iterator[Extent]:
    """Lowest and highest body at which the first gait walks forward as asked."""
    usual = bench.footing.height
    gait = bench.asked.gaits[0] if bench.asked.gaits else None
    if gait is None:
        return
    case = bench.cases[f"{gait.name} forward"]
    clearance = bench.robot.sheet.requirements.ground_clearance or 0.0

    def probe_at(height: float) -> Strain:
        try:
            stand: Footing = footing(bench.robot, height=height)
        except LegwrightError as error:
            return Strain(limit=str(error), ratio=3.0)
        walk = replace(case.walk, footing=stand)
        found = hardest(bench.robot, bench.asked, walk, payload=bench.asked.payload)
        gap = stand.height - bench.footing.height + trunk_gap
        belly = Strain(
            limit="trunk on the ground" if not clearance else "ground clearance",
            ratio=1.0 + (clearance - gap) / max(clearance, 0.01),
        )
        return max((found, belly), key=lambda strain: strain.ratio)

    from legwright.mechanics.ground import lowest_trunk_point

    belly_point = lowest_trunk_point(bench.robot)
    trunk_gap = usual + belly_point if belly_point is not None else usual
    up, stop_up = frontier(lambda rise: probe_at(usual + rise), 0.05 * usual, 2.0 * usual)
    down, stop_down = frontier(lambda drop: probe_at(usual - drop), 0.05 * usual, 0.98 * usual)
    yield Extent(
        name="lowest body",
        gait=gait.name,
        value=(usual - down) * 1e3,
        unit="mm",
        stopped_by=stop_down.limit,
        parts=stop_down.parts,
    )
    yield Extent(
        name="highest body",
        gait=gait.name,
        value=(usual + up) * 1e3,
        unit="mm",
        stopped_by=stop_up.limit,
        parts=stop_up.parts,
    )
