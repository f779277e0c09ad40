"""The envelope: how far speed, payload, slope and body height go, and what stops each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache, partial

import numpy as np

from legwright.errors import LegwrightError
from legwright.locomotion.gait import Gait
from legwright.locomotion.stance import Footing, footing
from legwright.locomotion.walk import Walk
from legwright.mechanics.loading import PointMass
from legwright.study.asked import Twist
from legwright.study.bench import SLOPE_HEADINGS, Bench
from legwright.study.evidence import Extent
from legwright.study.search import Probe, fastest, frontier, holding, least, narrowest
from legwright.study.strains import Strain
from legwright.study.trial import Straining, cycles, straining

WAYS: dict[str, Twist] = {
    "forward": (1.0, 0.0, 0.0),
    "sideways": (0.0, 1.0, 0.0),
    "turning": (0.0, 0.0, 1.0),
}

PIECE = "envelope: "
"""How names of pieces begin."""
Near = Mapping[tuple[str, str], float | None]
"""Name and gait of an edge -> where it was."""
Piece = Callable[[], tuple[Extent, ...]]


def envelope(
    bench: Bench, progress: Callable[[str, int, int], None], before: Sequence[Extent] = ()
) -> Iterator[Extent]:
    """All edges of the envelope.

    Args:
        bench: The bench.
        progress: Told what is being done, how many are done, of how many.
        before: The envelope of a robot much like this one: where edges are looked for first.

    Yields:
        Top speeds per gait and way, then largest payload, steepest slope, lowest and highest
        body.
    """
    total, done = len(bench.asked.gaits) * (len(WAYS) + 2) + 2, 0
    progress("envelope", done, total)
    for edges in _pieces(bench, before).values():
        for extent in edges():
            done += 1
            yield extent
            progress("envelope", done, total)


def pieces(bench: Bench, before: Sequence[Extent] = ()) -> dict[str, Piece]:
    """The envelope in pieces that know nothing of each other, for several processes.

    Args:
        bench: The bench.
        before: As for `envelope`.

    Returns:
        Name -> what gives its edges; in the order of `envelope`.
    """
    return {name: partial(_gathered, edges) for name, edges in _pieces(bench, before).items()}


def is_piece(name: str) -> bool:
    """Whether a name is that of one of `pieces`."""
    return name.startswith(PIECE)


def _pieces(bench: Bench, before: Sequence[Extent]) -> dict[str, Callable[[], Iterator[Extent]]]:
    near = {(extent.name, extent.gait): extent.value for extent in before}
    return {
        **{PIECE + one.name: partial(_edges, bench, one, near) for one in bench.asked.gaits},
        f"{PIECE}heights": partial(_heights, bench, near),
    }


def _gathered(edges: Callable[[], Iterator[Extent]]) -> tuple[Extent, ...]:
    return tuple(edges())


def _edges(bench: Bench, gait: Gait, near: Near) -> Iterator[Extent]:
    """Those of one gait."""
    for way in WAYS:
        yield _top_speed(bench, gait, way, near.get((f"top speed {way}", gait.name)))
    yield _payload(bench, gait, near.get(("largest payload", gait.name)))
    yield _slope(bench, gait, near.get(("steepest slope", gait.name)))


def _top_speed(bench: Bench, gait: Gait, way: str, near: float | None = None) -> Extent:
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
    strain = straining(bench.robot, asked, asked.payload)

    def at(cycle: float, sign: float) -> Probe:
        def probe(speed: float) -> Strain:
            x, y, turn = (sign * share * speed for share in unit)
            walk = Walk(gait, velocity=(x, y), turn=turn, cycle=cycle, footing=bench.footing)
            return strain(walk)

        return probe

    ladder = _likeliest(bench, gait)
    scale, label = (180.0 / np.pi, "°/s") if way == "turning" else (1.0, "m/s")
    near = None if near is None else near / scale
    top, stop, best = fastest([at(cycle, 1.0) for cycle in ladder], start, 64.0 * start, near=near)
    back = [at(cycle, -1.0) for cycle in (ladder[best], *ladder[:best], *ladder[best + 1 :])]
    if way != "forward" and top > 0.0 and not holding(back, top):
        # the other side is the weaker one: robot, payload or gait are not alike left and right
        stop = least(back, top)
        top, found, _ = fastest(back, start, top, near=near)
        stop = found if found.ratio > 1.0 else stop
    return Extent(
        name=f"top speed {way}",
        gait=gait.name,
        value=top * scale,
        unit=label,
        stopped_by=stop.limit,
        parts=stop.parts,
        required=None if required is None else required * scale,
    )


def _likeliest(bench: Bench, gait: Gait) -> list[float]:
    """The cycle times to try, those first that are nearest to what the asked speeds took."""
    taken = float(np.median([case.walk.cycle or 1.0 for case in bench.of(gait)]))
    ladder = cycles(bench.robot, gait)
    return sorted(ladder, key=lambda cycle: abs(np.log(cycle / taken)))


def _payload(bench: Bench, gait: Gait, near: float | None) -> Extent:
    wants = bench.robot.sheet.requirements
    at = np.array(wants.payload_at)

    @lru_cache(maxsize=2)
    def carrying(mass: float) -> Straining:
        return straining(bench.robot, bench.asked, PointMass(mass=mass, at=at))

    def of(walk: Walk) -> Probe:
        return lambda mass: carrying(mass)(walk)

    probes = [of(case.walk) for case in bench.of(gait)]
    start = wants.payload or 0.1 * bench.robot.mass
    most, stop, _ = narrowest(probes, start, 20.0 * bench.robot.mass, near=near)
    return Extent(
        name="largest payload",
        gait=gait.name,
        value=most,
        unit="kg",
        stopped_by=stop.limit,
        parts=stop.parts,
        required=wants.payload,
    )


def _slope(bench: Bench, gait: Gait, near: float | None) -> Extent:
    case = bench.cases[f"{gait.name} forward"]
    strain = straining(bench.robot, bench.asked, bench.asked.payload)

    def towards(uphill: float) -> Probe:
        return lambda slope: strain(replace(case.walk, slope=slope, uphill=uphill))

    probes = [towards(uphill) for uphill in SLOPE_HEADINGS.values()]
    required = bench.robot.sheet.requirements.slope
    most, stop, _ = narrowest(
        probes, required or np.radians(5.0), np.radians(60.0),
        near=None if near is None else np.radians(near),
    )  # fmt: skip
    return Extent(
        name="steepest slope",
        gait=gait.name,
        value=float(np.degrees(most)),
        unit="°",
        stopped_by=stop.limit,
        parts=stop.parts,
        required=None if required is None else float(np.degrees(required)),
    )


def _heights(bench: Bench, near: Near) -> Iterator[Extent]:
    """Lowest and highest body at which the first gait walks forward as asked."""
    usual = bench.footing.height
    gait = bench.asked.gaits[0] if bench.asked.gaits else None
    if gait is None:
        return
    case = bench.cases[f"{gait.name} forward"]
    clearance = bench.robot.sheet.requirements.ground_clearance or 0.0
    strain = straining(bench.robot, bench.asked, bench.asked.payload)

    def probe_at(height: float) -> Strain:
        try:
            stand: Footing = footing(bench.robot, height=height)
        except LegwrightError as error:
            return Strain(limit=str(error), ratio=3.0)
        walk = replace(case.walk, footing=stand)
        found = strain(walk)
        gap = stand.height - bench.footing.height + trunk_gap
        belly = Strain(
            limit="trunk on the ground" if not clearance else "ground clearance",
            ratio=1.0 + (clearance - gap) / max(clearance, 0.01),
        )
        hardest = max((found, belly), key=lambda strain: strain.ratio)
        if found.exact is None:
            return hardest
        whole = found.exact
        return replace(hardest, exact=lambda: max((whole(), belly), key=lambda one: one.ratio))

    from legwright.mechanics.ground import lowest_trunk_point

    belly_point = lowest_trunk_point(bench.robot)
    trunk_gap = usual + belly_point if belly_point is not None else usual
    low, high = (near.get((f"{which} body", gait.name)) for which in ("lowest", "highest"))
    up, stop_up, _ = frontier(
        [lambda rise: probe_at(usual + rise)], 0.05 * usual, 2.0 * usual,
        near=None if high is None else max(high * 1e-3 - usual, 0.0),
    )  # fmt: skip
    down, stop_down, _ = frontier(
        [lambda drop: probe_at(usual - drop)], 0.05 * usual, 0.98 * usual,
        near=None if low is None else max(usual - low * 1e-3, 0.0),
    )  # fmt: skip
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
