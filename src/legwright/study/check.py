"""One check of one robot: lay out the bench, ask every question, keep the evidence."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from legwright.errors import RequestError, RobotError, did_you_mean
from legwright.locomotion.stance import footing
from legwright.locomotion.walk import Walk
from legwright.mechanics.draw import Draw
from legwright.mechanics.loading import Loads
from legwright.mechanics.motion import Motion
from legwright.robot.robot import Robot
from legwright.study.apart import APART, joined, walks_alone, work_apart
from legwright.study.asked import asked_of
from legwright.study.bench import Bench, feed, lay_out, walked
from legwright.study.checks.balance import check_balance
from legwright.study.checks.build import check_build
from legwright.study.checks.bus import check_bus
from legwright.study.checks.cables import check_cables
from legwright.study.checks.clash import check_clash, check_ranges
from legwright.study.checks.drives import check_drives
from legwright.study.checks.energy import check_energy
from legwright.study.checks.extents import check_extents
from legwright.study.checks.feet import check_feet
from legwright.study.checks.grip import check_grip
from legwright.study.checks.ground import check_ground
from legwright.study.checks.held import check_held
from legwright.study.checks.plates import check_plates
from legwright.study.checks.reach import check_reach
from legwright.study.checks.shells import ahead as shells_ahead
from legwright.study.checks.shells import check_shells
from legwright.study.checks.still import check_still
from legwright.study.checks.supply import check_supply
from legwright.study.checks.tolerance import check_strides, check_tolerance
from legwright.study.checks.wiring import check_wiring
from legwright.study.envelope import envelope, is_piece
from legwright.study.evidence import Case, Extent, Study
from legwright.study.finding import Finding, Verdict
from legwright.study.forked import forked
from legwright.study.reach_maps import reach_maps
from legwright.study.shells import shells_of
from legwright.study.stages import Keeper
from legwright.study.standby import Standby
from legwright.study.tolerances import draw_ahead
from legwright.study.trial import FINE, pace, trial

Progress = Callable[[str, int, int], None]
"""Told what is being done, how many are done, of how many."""

Check = Callable[[Bench], Iterator[Finding]]

CHECKS: tuple[tuple[tuple[str, ...], Check], ...] = (
    (("build",), check_build),
    (("reach",), check_reach),
    (("ground",), check_ground),
    (("balance",), check_balance),
    (("grip",), check_grip),
    (("clash",), check_clash),
    (("clash",), check_ranges),
    (("shell",), check_shells),
    (("foot",), check_feet),
    (("torque", "speed", "heat"), check_drives),
    (("torque",), check_held),
    (("rise", "heat"), check_still),
    (("supply",), check_supply),
    (("wiring",), check_wiring),
    (("wiring",), check_cables),
    (("bus",), check_bus),
    (("energy",), check_energy),
    (("tolerance",), check_tolerance),
    (("tolerance",), check_strides),
    (("plates", "brackets"), check_plates),
)
"""Areas that a check fills, and the check, in the order of the report."""

FIRST = frozenset({check_build, check_reach, check_balance, check_drives, check_supply})
LAST = frozenset(
    {
        check_clash,
        check_ranges,
        check_shells,
        check_feet,
        check_tolerance,
        check_strides,
        check_plates,
    }
)
"""Asked first and last: whoever waits for parts of a study wants to know soon whether the robot
stands, is strong enough and keeps its voltage, and these take longest. In the report they keep
their places."""

EARLY = {"build": check_build, "reach": check_reach, "balance": check_balance}
"""Asked of the first gait before the others walk, where somebody waits for parts."""

STILL = {
    check.__name__: check for check in (check_tolerance, check_ranges, check_plates, check_held)
}
"""Asked of the robot alone: they need no walk, and no voltage."""

EARLIER = tuple(name for name in STILL if name != "check_plates")
"""Those of `STILL` that a second process works out beside the walks; the others are done here."""

AREAS = (*dict.fromkeys(area for areas, _ in CHECKS for area in areas), "envelope")

GROUPS: dict[str, tuple[str, ...]] = {
    "electrics": ("supply", "wiring", "bus", "energy"),
    "making": ("tolerance", "plates", "brackets"),
}
"""Names for several areas at once."""


def check(
    robot: Robot, *, only: Sequence[str] | None = None, progress: Progress | None = None
) -> list[Finding]:
    """Judge a robot.

    Args:
        robot: The robot.
        only: Areas or groups to judge, of `AREAS` and `GROUPS`; all when None.
        progress: Told what is being done, how many are done, of how many.

    Returns:
        Findings, in the order of the areas.

    Raises:
        RequestError: for an unknown area.
        RobotError: when the robot cannot stand at all, so that there is nothing to judge.
    """
    return list(study(robot, only=only, progress=progress).findings)


def study(
    robot: Robot, *, only: Sequence[str] | None = None, progress: Progress | None = None,
    partly: Callable[[Study], None] | None = None, before: Study | None = None, cores: int = 1,
    second: Standby | None = None,
) -> Study:  # fmt: skip
    """Judge a robot and keep the evidence.

    Args:
        robot: The robot.
        only: Areas or groups to judge, of `AREAS` and `GROUPS`; all when None.
        progress: Told what is being done, how many are done, of how many.
        partly: Given what has been found so far, each time that an area is done.
        before: A study of the robot as it was: what the change does not touch is taken over.
            The findings are those of a study without it.
        cores: With 2, a second process walks the last gait and works out `EARLIER` and the reach
            maps while the others walk, and then `APART`; the findings are the same.
        second: The second process, where one stands by; else it is started for this study.

    Returns:
        Findings, cases, envelope and reach maps.

    Raises:
        RequestError: for an unknown area.
        RobotError: when the robot cannot stand at all, so that there is nothing to judge.
    """
    wanted = _areas(only)
    tell = progress or (lambda what, done, total: None)
    keeper = Keeper(robot, before.stages if before is not None else {})
    stand = footing(robot)
    partly = None if partly is None else _growing(partly)
    early = None if partly is None else partial(_early, partly, wanted)
    asked, two = asked_of(robot, stand), cores > 1
    alone = Bench(robot=robot, asked=asked, footing=stand)
    far = _far(keeper, alone) if two else {}
    beside = {**far, **_still(keeper, alone, wanted)}
    if two and check_tolerance.__name__ in beside:
        draw_ahead(robot)
    if two and second is not None and "shell" in wanted and not keeper.has(check_shells.__name__):
        if not second.running:
            shells_of(robot)  # remembered by what is started now, and started anew
        beside["shells ahead"] = partial(shells_ahead, alone)  # kept there for `check_shells`
    waiting = partial(tell, "envelope", 0, 1)
    shared = forked
    if second is not None and two:  # of the walks it looks at the poses alone
        shared = partial(
            second.asked, robot=robot, without=(Loads, Draw), parts={Motion: ("q",)},
            either=lambda name: name in (*EARLIER, "maps") or is_piece(name),
        )  # fmt: skip
    with shared(beside if two else {}, waiting=waiting) as still:
        walks = {gait: still[gait] for gait in far}
        laid = keeper.of("walks", lambda: lay_out(robot, asked, stand, tell, early, walks))
        tell("supply", 0, 1)
        known = {name: one for walk in walks.values() for name, one in walk().supplies.items()}
        fed = keeper.of("fed", lambda: feed(replace(laid, robot=robot), known))
        bench = replace(fed, robot=robot)
        work = _work(keeper, bench, wanted, _silent if two else tell)
        apart = work_apart(keeper, bench, work) if two else {}
        with shared(apart, waiting=waiting) as there:
            every = {**beside, **still, **work, **there}
            if "envelope" in work and two:
                every["envelope"] = partial(joined, there)
            return _studied(keeper, bench, every, wanted, tell, partly)


def _early(partly: Callable[[Study], None], wanted: frozenset[str], bench: Bench) -> None:
    """What is final as soon as the first gait has walked, unfed."""
    end = f", {bench.asked.gaits[0].name}"
    found = [
        finding
        for area, question in EARLY.items()
        if area in wanted
        for finding in question(bench)
        if finding.area == "build" or finding.name.endswith(end)
    ]
    if found:
        partly(_so_far(bench, found))


def _growing(partly: Callable[[Study], None]) -> Callable[[Study], None]:
    """The same, what was told once told again until it is found anew."""
    told: dict[tuple[str, str], Finding] = {}

    def grown(part: Study) -> None:
        new = {(finding.area, finding.name): finding for finding in part.findings}
        left = tuple(finding for name, finding in told.items() if name not in new)
        told.update(new)
        partly(replace(part, findings=(*part.findings, *left)))

    return grown


def _silent(what: str, done: int, total: int) -> None:
    """For work whose progress nobody sees."""


def _far(keeper: Keeper, bench: Bench) -> dict[str, Callable[[], Any]]:
    """Gait -> what walks it, for the one of several that another process walks."""
    gaits = bench.asked.gaits
    if len(gaits) < 2 or keeper.has("walks"):
        return {}
    return {gaits[-1].name: partial(walked, bench.robot, bench.asked, bench.footing, gaits[-1])}


def _still(keeper: Keeper, bench: Bench, wanted: frozenset[str]) -> dict[str, Callable[[], Any]]:
    """As `_work`, of the stages that need no walk."""
    work: dict[str, Callable[[], Any]] = {
        question.__name__: partial(_found, question, bench)
        for areas, question in CHECKS
        if question.__name__ in EARLIER
        and not wanted.isdisjoint(areas)
        and not keeper.has(question.__name__)
    }
    if not keeper.has("maps"):
        work["maps"] = partial(reach_maps, bench.robot, bench.footing)
    return work


def _work(
    keeper: Keeper, bench: Bench, wanted: frozenset[str], tell: Progress
) -> dict[str, Callable[[], Any]]:
    """Stage -> what works it out; without those that are taken over or not asked for."""
    alone = walks_alone(bench)
    work: dict[str, Callable[[], Any]] = {
        question.__name__: partial(_found, question, alone if question.__name__ in APART else bench)
        for areas, question in CHECKS
        if question.__name__ not in EARLIER
        and not wanted.isdisjoint(areas)
        and not keeper.has(question.__name__, holds=partial(_still_holds, bench))
    }
    if "envelope" in wanted and not keeper.has("envelope", bench.asked.voltage):
        before: Any = keeper.old("envelope") or ()
        work["envelope"] = partial(_extents, alone, tell, before)
    return work


def _studied(
    keeper: Keeper, bench: Bench, work: Mapping[str, Callable[[], Any]], wanted: frozenset[str],
    tell: Progress, partly: Callable[[Study], None] | None,
) -> Study:  # fmt: skip
    """The study of a bench, what can be taken over left out of ``work``."""
    answers: list[tuple[Finding, ...]] = [()] * len(CHECKS)
    order = sorted(range(len(CHECKS)), key=_turn)
    for done, number in enumerate(order):
        areas, question = CHECKS[number]
        if wanted.isdisjoint(areas):
            continue
        tell(areas[0], done, len(CHECKS))
        name = question.__name__
        _, found = keeper.of(name, work.get(name, tuple), holds=partial(_still_holds, bench))
        answers[number] = tuple(finding for finding in found if finding.area in wanted)
        if partly is not None:
            partly(_so_far(bench, [finding for answer in answers for finding in answer]))
    findings = [finding for answer in answers for finding in answer]
    extents: tuple[Extent, ...] = ()
    if "envelope" in wanted:
        extents = keeper.of("envelope", work.get("envelope", tuple), bench.asked.voltage)
        findings += check_extents(extents)
    return Study(
        robot=bench.robot,
        findings=tuple(findings),
        footing=bench.footing,
        cases={**bench.cases, **bench.sloped},
        envelope=extents,
        reach=keeper.of("maps", work.get("maps", tuple)),
        circuit=bench.power.circuit,
        supplies=bench.power.supplies,
        stages=keeper.stages,
    )


def _turn(number: int) -> int:
    """When a check is asked; what another process may still be at comes at the end."""
    question = CHECKS[number][1]
    if question.__name__ in (*EARLIER, *APART):
        return 3
    return 0 if question in FIRST else 2 if question in LAST else 1


def _extents(bench: Bench, tell: Progress, before: Sequence[Extent]) -> tuple[Extent, ...]:
    return tuple(envelope(bench, tell, before))


def _found(question: Check, bench: Bench) -> tuple[float | None, tuple[Finding, ...]]:
    """What a check finds, and the voltage that it looked for cures at; None where at none."""
    volts = None if question.__name__ in STILL else bench.asked.voltage
    return volts, tuple(question(bench))


def _still_holds(bench: Bench, old: tuple[float | None, tuple[Finding, ...]]) -> bool:
    """Whether what a check found before may be taken over.

    Checks that read no wiring still look for cures at the voltage behind it: where that is
    another one, only what passed is taken over.
    """
    return old[0] in (None, bench.asked.voltage) or all(
        one.verdict is Verdict.PASS for one in old[1]
    )


def _so_far(bench: Bench, findings: Sequence[Finding]) -> Study:
    return Study(
        robot=bench.robot,
        findings=tuple(findings),
        footing=bench.footing,
        cases={**bench.cases, **bench.sloped},
        envelope=(),
        reach=(),
        circuit=bench.power.circuit,
        supplies=bench.power.supplies,
    )


def again(
    before: Study, robot: Robot, *, progress: Progress | None = None,
    partly: Callable[[Study], None] | None = None, cores: int = 1, second: Standby | None = None,
) -> Study:  # fmt: skip
    """Judge a changed robot; what the change does not touch is taken over.

    Args:
        before: A study of the robot as it was.
        robot: The robot as it is now.
        progress: As in `study`.
        partly: As in `study`.
        cores: As in `study`.
        second: As in `study`.

    Returns:
        The same as `study(robot)`.

    Raises:
        RobotError: when the robot cannot stand at all, so that there is nothing to judge.
    """
    return study(robot, progress=progress, partly=partly, before=before, cores=cores, second=second)


def glimpse(robot: Robot, walk: Walk | None = None, *, samples: int = FINE) -> Case:
    """One case of a robot at once: pose, gait cycle, loads, margin, torque headroom.

    Currents and headroom are those at the battery's cut-off voltage; what the wiring loses is
    told by the study alone.

    Args:
        robot: The robot.
        walk: What it walks; the first asked gait, forward as asked, when None. Without a cycle
            time that which strains the robot least is taken.
        samples: Samples of the cycle.

    Returns:
        The case, as a study begins with it.

    Raises:
        RequestError: when gait and legs do not fit, or the robot cannot stand.
    """
    stand = footing(robot)
    asked = asked_of(robot, stand)
    if walk is None:
        if not asked.gaits:
            raise RequestError("gait", "none", f"possible: {'; '.join(asked.refused.values())}")
        first, (x, y, turn) = asked.directions(asked.gaits[0])["forward"]
        walk = Walk(first, velocity=(x, y), turn=turn)
    walk = replace(walk, footing=walk.footing or stand)
    if walk.cycle is None:
        walk = pace(robot, asked, walk, payload=asked.payload)
    return trial(robot, asked, walk, payload=asked.payload, samples=samples)


def _areas(only: Sequence[str] | None) -> frozenset[str]:
    if not only:
        return frozenset(AREAS)
    known = (*AREAS, *GROUPS)
    for name in only:
        if name not in known:
            raise RequestError(
                "area", name, f"one of {', '.join(known)}. " + did_you_mean(name, known)
            )
    return frozenset(area for name in only for area in GROUPS.get(name, (name,)))


__all__ = ["AREAS", "GROUPS", "Progress", "RobotError", "again", "check", "glimpse", "study"]
